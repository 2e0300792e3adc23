"""Makes fixtures/reference/*.json from general-purpose reference libraries.

Every sibling module with a function `reference() -> dict` gives one file of its own name. The
dict is written with its numbers at twelve significant digits and the versions that made it.

    python tests/reference/make.py            writes the files
    python tests/reference/make.py --check    makes them anew and fails on a difference
"""

import importlib.metadata
import json
import math
import pathlib
import runpy
import sys

HERE = pathlib.Path(__file__).resolve().parent
OUT = HERE.parent.parent / "fixtures" / "reference"


def tidy(value):
    """Plain Python numbers at twelve significant digits, so that the same versions give the same bytes."""
    if isinstance(value, dict):
        return {k: tidy(v) for k, v in value.items()}
    if isinstance(value, (list, tuple)):
        return [tidy(v) for v in value]
    if hasattr(value, "tolist"):
        return tidy(value.tolist())
    if isinstance(value, float):
        return float(f"{value:.12g}") if math.isfinite(value) else None
    return value


# What a minimiser finds: on other processors it has been seen to stop up to 1e-9 mm beside.
MINIMISED = {"minimised": 5e-9, "sigma": 5e-9}


def agree(a, b, within=1e-11):
    """Equal, but for the last digits of numbers that other processors round otherwise."""
    if isinstance(a, dict) and isinstance(b, dict):
        return a.keys() == b.keys() and all(agree(a[k], b[k], MINIMISED.get(k, within)) for k in a)
    if isinstance(a, list) and isinstance(b, list):
        return len(a) == len(b) and all(agree(x, y, within) for x, y in zip(a, b))
    if isinstance(a, float) or isinstance(b, float):
        return a is not None and b is not None and math.isclose(a, b, rel_tol=1e-9, abs_tol=within)
    return a == b


def main():
    check = "--check" in sys.argv[1:]
    wanted = [line.split("==")[0] for line in (HERE / "requirements.txt").read_text().split()]
    versions = {name: importlib.metadata.version(name) for name in wanted}
    bad = 0
    sys.path.insert(0, str(HERE))
    for script in sorted(HERE.glob("*.py")):
        reference = runpy.run_path(str(script)).get("reference") if script.name != "make.py" else None
        if reference is None:
            continue
        made = {"made_with": versions, **tidy(reference())}
        target = OUT / f"{script.stem}.json"
        if check:
            same = target.exists() and agree(json.loads(target.read_text()), json.loads(json.dumps(made)))
            print(f"{target.name}: {'as kept' if same else 'DIFFERS'}")
            bad += not same
        else:
            OUT.mkdir(parents=True, exist_ok=True)
            target.write_text(json.dumps(made, indent=None, separators=(",", ":")) + "\n")
            print(f"{target.name}: written")
    sys.exit(1 if bad else 0)


if __name__ == "__main__":
    main()
