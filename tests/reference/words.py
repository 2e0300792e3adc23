"""The words of the programs in fixtures/programs, as pygcode reads them: one list of (letter, number) a line.

pygcode reads neither block skip nor tape marks nor a plus sign: `/` is taken off before it reads a
line, `%` lines are left out, and the programs have no plus sign.

    python tests/reference/words.py FILE ...    prints the words of each file, for tests of programs that are written anew
"""

import json
import pathlib
import sys

from pygcode.comment import split_line
from pygcode.words import text2words

PROGRAMS = pathlib.Path(__file__).resolve().parent.parent.parent / "fixtures" / "programs"


def words(text):
    lines = [line.strip().lstrip("/") for line in text.splitlines()]
    blocks = [split_line(line)[0] for line in lines if not line.startswith("%")]
    found = [[[word.letter, float(word.value)] for word in text2words(block)] for block in blocks]
    return [block for block in found if block]


def reference():
    return {path.name: words(path.read_text()) for path in sorted(PROGRAMS.glob("*.nc"))}


if __name__ == "__main__":
    print(json.dumps([words(pathlib.Path(name).read_text()) for name in sys.argv[1:]]))
