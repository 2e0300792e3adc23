// Joins listing and picture: choose a block or a place, step, play the motions, zoom and pan.
// Without it the page is complete as it stands. Lengths are millimetres, times seconds, x is a radius.
// The types in its comments are checked by `bash .ci/run`.
"use strict";

/**
 * @typedef {[x: number, z: number]} Point
 * @typedef {[tool: number, mode: number, speed: number, limit: number, feed: number, unit: number]} Force what was in force in a motion
 * @typedef {[number: number, name: string, outline: number[]]} Tool
 * @typedef {[first: number, last: number, name: string, lies: number | null]} Pass its motions, and how deep it lies if it takes metal
 * @typedef {{ row: number, kind: number, force: Force, known: boolean, from: Point, to: Point, centre: Point,
 *   starts: number, ends: number, stops: number }} Move
 * @typedef {{ view: [x: number, z: number, width: number, stretch: number], tools: Tool[], force: Force[], passes: Pass[],
 *   moves: number[] }} Motions
 */
(() => {
  const data = document.getElementById("motions");
  if (!data) return;
  /**
   * @template {Element} T
   * @param {string} id
   * @param {new () => T} kind
   * @returns {T}
   */
  const byId = (id, kind) => {
    const found = document.getElementById(id);
    if (found instanceof kind) return found;
    throw new TypeError(`the page lacks ${id}`);
  };
  /** @param {string} id @param {string} text */
  const say = (id, text) => { byId(id, HTMLElement).textContent = text; };
  document.documentElement.classList.add("script");

  /** @type {Motions} */
  const { view: opened, tools, force, passes, moves: flat } = JSON.parse(data.textContent ?? "");
  const rows = [...document.querySelectorAll(".listing li")];
  /** @type {Map<Element | null, number>} */
  const rowOf = new Map(rows.map((row, i) => [row, i]));
  const drawing = byId("drawing", SVGSVGElement), world = byId("world", SVGElement), over = byId("over", SVGElement);
  const inches = byId("readout", HTMLElement).dataset.unit === "in";
  const unit = { inches, name: inches ? "in" : "mm", mm: inches ? 25.4 : 1 };
  const scene = byId("scene", HTMLElement), listing = byId("listing", HTMLElement), walk = byId("walk", HTMLElement);
  const slider = byId("time", HTMLInputElement), speed = byId("speed", HTMLSelectElement);
  /**
   * @param {"svg" | "g" | "path" | "circle" | "line" | "text"} name
   * @param {Record<string, string | number>} attributes
   */
  const svg = (name, attributes) => {
    const made = document.createElementNS("http://www.w3.org/2000/svg", name);
    for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, String(value));
    return made;
  };

  // What changes at every step lies on a sheet of its own above the picture, so that thousands of paths are not drawn anew.
  const above = svg("svg", { class: "above", "aria-hidden": "true" });
  const lit = svg("g", { class: "lit-sheet" });
  const marks = svg("g", {});
  above.append(lit, marks);
  scene.append(above);

  // Motions, read from the flat list, and the first and last motion of each row.
  /** @type {Move[]} */
  const moves = [];
  /** @type {Map<number, [number, number]>} */
  const ofRow = new Map();
  let clock = 0;
  for (let i = 0, x = 0, z = 0; i < flat.length;) {
    const [row, coded, forced, seconds, stops] = flat.slice(i, i + 5);
    i += 5;
    const kind = coded % 10;
    if (coded >= 10) [x, z] = [flat[i++], flat[i++]];
    /** @type {Point} */
    const from = [x, z];
    [x, z] = [flat[i++], flat[i++]];
    /** @type {Point} */
    const centre = kind >= 2 ? [flat[i++], flat[i++]] : from;
    const starts = clock;
    clock += Math.max(seconds, 0);
    ofRow.set(row, [ofRow.get(row)?.[0] ?? moves.length, moves.length]);
    moves.push({ row, kind, force: force[forced], known: seconds >= 0, from, to: [x, z], centre, starts, ends: clock, stops });
  }
  if (moves.length === 0) return;

  /** Start angle and swept angle of an arc. @param {Move} move */
  const arc = ({ from, to, centre, kind }) => {
    const start = Math.atan2(from[1] - centre[1], from[0] - centre[0]);
    const end = Math.atan2(to[1] - centre[1], to[0] - centre[0]);
    const full = 2 * Math.PI;
    const swept = kind === 3 ? (end - start + 2 * full) % full : -((start - end + 2 * full) % full);
    return { start, swept, radius: Math.hypot(from[0] - centre[0], from[1] - centre[1]) };
  };
  /** @param {Move} move @param {number} share @returns {Point} */
  const along = (move, share) => {
    if (share >= 1) return move.to;
    const [[x, z], [endX, endZ]] = [move.from, move.to];
    if (move.kind < 2) return [x + (endX - x) * share, z + (endZ - z) * share];
    const { start, swept, radius } = arc(move);
    const angle = start + swept * share;
    return [move.centre[0] + radius * Math.cos(angle), move.centre[1] + radius * Math.sin(angle)];
  };
  /** @param {Move} move */
  const outline = (move) => {
    const start = `M${move.from[0]} ${move.from[1]}`;
    if (move.kind < 2) return `${start}L${move.to[0]} ${move.to[1]}`;
    const { swept, radius } = arc(move);
    const large = Math.abs(swept) > Math.PI ? 1 : 0;
    return `${start}A${radius} ${radius} 0 ${large} ${move.kind === 3 ? 1 : 0} ${move.to[0]} ${move.to[1]}`;
  };

  // The picture: its middle, how many millimetres it is wide, how much taller heights are drawn.
  const view = { x: opened[0], z: opened[1], width: opened[2], stretch: opened[3] };
  /** @type {Point} */
  let size = [1000, 420];
  const scale = () => size[0] / view.width;
  /** @param {Point} place @returns {Point} */
  const toScreen = ([x, z]) => [size[0] / 2 + (x - view.x) * scale(), size[1] / 2 - (z - view.z) * scale() * view.stretch];
  /** @param {Point} place @returns {Point} */
  const toWorld = ([px, py]) => [view.x + (px - size[0] / 2) / scale(), view.z - (py - size[1] / 2) / (scale() * view.stretch)];
  /** The largest round number within a span. @param {number} span */
  const round = (span) => {
    const decade = 10 ** Math.floor(Math.log10(span));
    return [5, 2, 1].map((m) => m * decade).find((step) => step <= span) ?? decade;
  };

  /** Numbers that an element carries. @param {Element} element @param {string} name */
  function numbers(element, name) {
    return (element.getAttribute(name) ?? "").split(" ").map(Number);
  }
  const pins = [...over.querySelectorAll(".pin")].map((pin) => ({ pin, at: numbers(pin, "data-at") }));
  const ticks = svg("g", {});
  over.append(ticks);
  function draw() {
    const s = scale();
    const [tx, tz] = [size[0] / 2 - view.x * s, size[1] / 2 + view.z * s * view.stretch];
    for (const group of [world, lit]) group.setAttribute("transform", `matrix(${s} 0 0 ${-s * view.stretch} ${tx} ${tz})`);
    scene.classList.toggle("near", view.width < opened[2] * 0.99);
    for (const { pin, at } of pins) {
      const [x, y] = toScreen([at[0], at[1]]);
      pin.setAttribute("x", String(x));
      pin.setAttribute("y", String(y - 6));
    }
    ticks.replaceChildren();
    /** @param {number} at @param {boolean} vertical @param {string} text */
    const tick = (at, vertical, text) => {
      const [x, y] = vertical ? [at, size[1]] : [0, at];
      ticks.append(svg("line", { x1: x, y1: y, x2: vertical ? x : 8, y2: vertical ? y - 8 : y }));
      const label = svg("text", { x: vertical ? x : 12, y: vertical ? y - 12 : y + 5, "text-anchor": vertical ? "middle" : "start" });
      label.textContent = text;
      ticks.append(label);
    };
    /** @param {number} step */
    const places = (step) => Math.max(0, -Math.floor(Math.log10(step) + 1e-9));
    const [left, top] = toWorld([0, 0]);
    const [right, low] = toWorld(size);
    const across = round((view.width * 110) / size[0] / unit.mm);
    for (let k = Math.ceil(left / unit.mm / across); k * across * unit.mm <= right; k++) {
      const at = toScreen([k * across * unit.mm, 0])[0];
      if (at > 60 && at < size[0] - 30) tick(at, true, (k * across).toFixed(places(across)));
    }
    const up = round((top - low) / 4 / unit.mm);
    for (let k = Math.ceil(low / unit.mm / up); k * up * unit.mm <= top; k++) {
      const at = toScreen([0, k * up * unit.mm])[1];
      if (at > 20 && at < size[1] - 36) tick(at, false, (k * up).toFixed(places(up)));
    }
    say("scale", `${(view.width / unit.mm).toFixed(view.width / unit.mm < 10 ? 2 : 0)} ${unit.name} of radius shown; heights are drawn ${view.stretch} times as large. Scales in ${unit.inches ? "inches" : "millimetres"}.`);
    place();
  }
  function fit() {
    const box = drawing.getBoundingClientRect();
    if (box.width < 1 || box.height < 1) return;
    size = [box.width, box.height];
    for (const sheet of [drawing, above]) sheet.setAttribute("viewBox", `0 0 ${size[0]} ${size[1]}`);
    draw();
  }
  /** @param {number} factor @param {Point} [about] */
  function zoom(factor, [px, py] = [size[0] / 2, size[1] / 2]) {
    const [x, z] = toWorld([px, py]);
    view.width = Math.min(Math.max(view.width / factor, 0.2), opened[2] * 4);
    const [nx, nz] = toWorld([px, py]);
    view.x += x - nx;
    view.z += z - nz;
    draw();
  }
  /** @param {number} dx @param {number} dy */
  function pan(dx, dy) {
    view.x -= dx / scale();
    view.z += dy / (scale() * view.stretch);
    draw();
  }
  function whole() {
    [view.x, view.z, view.width, view.stretch] = opened;
    draw();
  }

  // Where the play stands: a motion and the share of it that is done.
  const now = { row: -1, move: 0, share: 1 };
  const toolShapes = new Map(tools.map(([number, , outline]) => [number, outline]));
  const figure = svg("path", { class: "tool" });
  const chosen = svg("path", { class: "lit" });
  const nearPath = svg("path", { class: "lit-near" });
  const dot = svg("circle", { class: "dot", r: 6 });
  lit.append(nearPath, figure, chosen);
  marks.append(dot);
  const charts = /** @type {SVGSVGElement[]} */ ([...document.querySelectorAll("figure svg")]);
  const markers = charts.flatMap((chart) => [...chart.querySelectorAll(".marker")].map((marker) => ({ chart, marker, frame: numbers(marker, "data-frame") })));

  function place() {
    const move = moves[now.move];
    const [x, z] = along(move, now.share);
    const shape = toolShapes.get(move.force[0]) ?? [];
    let d = "";
    for (let i = 0; i + 1 < shape.length; i += 2) d += `${i ? "L" : "M"}${x + shape[i]} ${z + shape[i + 1]}`;
    figure.setAttribute("d", d && `${d}Z`);
    const [px, py] = toScreen([x, z]);
    dot.setAttribute("cx", String(px));
    dot.setAttribute("cy", String(py));
    for (const { marker, frame: [left, width, from, to] } of markers) {
      const at = String(left + (width * (x - from)) / (to - from));
      const inside = x >= Math.min(from, to) && x <= Math.max(from, to);
      marker.setAttribute("visibility", inside ? "visible" : "hidden");
      marker.setAttribute("x1", at);
      marker.setAttribute("x2", at);
    }
    read(move, x, z);
  }
  /** @param {number} s */
  const clockText = (s) => `${Math.floor(s / 60)}:${String(Math.floor(s % 60)).padStart(2, "0")}`;
  /** @param {Move} move @param {number} x @param {number} z */
  function read(move, x, z) {
    const [tool, mode, speed, limit, feed, per] = move.force;
    const free = speed / (2 * Math.PI * Math.abs(x));
    const rpm = mode === 0 ? 0 : mode === 1 ? speed : limit > 0 ? Math.min(free, limit) : free;
    const time = move.starts + (move.ends - move.starts) * now.share;
    say("r-radius", (x / unit.mm).toFixed(unit.inches ? 4 : 3));
    say("r-height", (z / unit.mm).toFixed(unit.inches ? 4 : 3));
    say("r-rpm", Number.isFinite(rpm) ? rpm.toFixed(0) : "–");
    say("r-surface", ((2 * Math.PI * Math.abs(x) * (Number.isFinite(rpm) ? rpm : 0)) / (unit.inches ? 12 * unit.mm : 1000)).toFixed(0));
    say("r-feed", move.kind === 0 ? "rapid" : per === 0 ? "none" : `${unit.inches ? (feed / unit.mm).toFixed(5) : feed} ${unit.name}/${per === 1 ? "rev" : "min"}`);
    say("r-time", `${clockText(time)} of ${clockText(clock)}${move.known ? "" : ", not known here"}`);
    const named = tools.find(([number]) => number === tool);
    say("r-tool", tool < 0 ? "none" : named ? `T${tool} ${named[1]}` : `T${tool}`);
    const pass = passAt(now.move);
    say("r-pass", pass < 0 ? "between" : `${pass + 1} ${passes[pass][2]}`);
    slider.value = String(clock > 0 ? (1000 * time) / clock : 0);
  }
  /** @param {number} move */
  const passAt = (move) => passes.findIndex(([first, last]) => move >= first && move <= last);

  /** @param {number} row */
  function mark(row) {
    if (row !== now.row) {
      rows[now.row]?.removeAttribute("aria-current");
      now.row = row;
      const [first, last] = ofRow.get(row) ?? [0, -1];
      chosen.setAttribute("d", moves.slice(first, last + 1).map(outline).join(""));
      rows[row]?.setAttribute("aria-current", "true");
      centre(30);
    }
  }
  // Rows take their true height only when they come into view, and move those behind them: again, until nothing moves for some frames.
  /** @param {number} frames */
  function centre(frames) {
    const row = rows[now.row];
    if (!row || frames <= 0) return;
    const [box, outer, before] = [row.getBoundingClientRect(), listing.getBoundingClientRect(), listing.scrollTop];
    listing.scrollTop += (box.top + box.bottom) / 2 - (outer.top + outer.bottom) / 2;
    const moved = Math.abs(listing.scrollTop - before) > 1;
    requestAnimationFrame(() => centre(moved ? Math.max(frames - 1, 0) : Math.min(frames - 1, 3)));
  }
  /** @param {number} row */
  function choose(row) {
    if (row < 0 || row >= rows.length) return;
    pause();
    mark(row);
    const motion = ofRow.get(row);
    if (motion) {
      [now.move, now.share] = [motion[1], 1];
    }
    place();
    /** @param {string} part */
    const text = (part) => rows[row].querySelector(part)?.textContent ?? "";
    say("says", `Line ${text("i")}: ${text(":scope > span")}`);
    if (motion) keepInView();
  }
  // A chosen motion outside the picture is brought into it, where the picture is zoomed in.
  function keepInView() {
    if (!scene.classList.contains("near")) return;
    const [px, py] = toScreen(along(moves[now.move], now.share));
    if (px < 40 || py < 40 || px > size[0] - 40 || py > size[1] - 40) toTool();
  }
  function toTool() {
    [view.x, view.z] = along(moves[now.move], now.share);
    draw();
  }

  // Blocks near a place of the picture: each choice of the same place takes the next of them.
  /** @type {{ rows: number[], turn: number, at: Point }} */
  let here = { rows: [], turn: 0, at: [-1, -1] };
  /** @param {Move} move @param {Point} place */
  function distance(move, [px, py]) {
    const parts = move.kind < 2 ? 1 : 4;
    let least = Infinity;
    let [ax, ay] = toScreen(move.from);
    for (let i = 1; i <= parts; i++) {
      const [bx, by] = toScreen(along(move, i / parts));
      const length = (bx - ax) ** 2 + (by - ay) ** 2;
      const share = length ? Math.min(1, Math.max(0, ((px - ax) * (bx - ax) + (py - ay) * (by - ay)) / length)) : 0;
      least = Math.min(least, Math.hypot(px - ax - share * (bx - ax), py - ay - share * (by - ay)));
      [ax, ay] = [bx, by];
    }
    return least;
  }
  /** @param {number[]} found */
  function light(found) {
    for (const row of here.rows) rows[row]?.classList.remove("near");
    for (const row of found) rows[row]?.classList.add("near");
    nearPath.setAttribute("d", moves.filter((m) => found.includes(m.row)).map(outline).join(""));
    say("also", found.length > 1 ? `${found.length} blocks pass here, marked in the listing; choose the place again for the next.` : "");
  }
  /** @param {Point} at */
  function pick(at) {
    const again = Math.hypot(at[0] - here.at[0], at[1] - here.at[1]) < 12;
    if (again && here.rows.length) {
      here.turn = (here.turn + 1) % here.rows.length;
    } else {
      const far = moves.map((move) => [distance(move, at), move.row]);
      const nearest = far.reduce((least, [d]) => Math.min(least, d), Infinity);
      const close = far.filter(([d]) => d <= Math.max(10, nearest + 4)).sort((a, b) => a[0] - b[0]).slice(0, 60);
      const found = [...new Set(close.map(([, row]) => row))];
      light(found);
      here = { rows: found, turn: 0, at };
    }
    choose(here.rows[here.turn]);
  }
  // A place on a picture of depth or speed: the block of the pass that goes through it, else of the last that takes metal.
  /** @param {number} radius @param {number} depth */
  function pickRadius(radius, depth) {
    /** @param {number} i */
    const covers = (i) => radius >= Math.min(moves[i].from[0], moves[i].to[0]) && radius <= Math.max(moves[i].from[0], moves[i].to[0]);
    const cutting = passes.filter((pass) => pass[3] !== null);
    const wanted = cutting.find(([, , , lies]) => lies !== null && depth <= lies) ?? cutting.at(-1) ?? passes[0];
    const found = [];
    let best = -1;
    for (const pass of passes) {
      for (let i = pass[0]; i <= pass[1]; i++) {
        if (moves[i].kind > 0 && covers(i)) {
          found.push(moves[i].row);
          if (pass === wanted && best < 0) best = moves[i].row;
        }
      }
    }
    const all = [...new Set(found)];
    light(all);
    here = { rows: all, turn: 0, at: [-1, -1] };
    if (best >= 0) choose(best);
  }

  // The motions, as fast as asked; it waits at stops as the machine does.
  let playing = 0;
  const play = byId("play", HTMLButtonElement);
  /** @param {string} sign @param {string} text */
  const label = (sign, text) => play.replaceChildren(Object.assign(document.createElement("span"), { textContent: sign, ariaHidden: "true" }), ` ${text}`);
  function pause() {
    if (playing) cancelAnimationFrame(playing);
    playing = 0;
    label("▶", "play");
  }
  function start() {
    if (now.move >= moves.length - 1 && now.share >= 1) [now.move, now.share] = [0, 0];
    label("❚❚", "pause");
    say("says", "");
    let before = performance.now();
    /** @param {number} at */
    const frame = (at) => {
      const going = advance(((at - before) / 1000) * Number(speed.value));
      before = at;
      mark(moves[now.move].row);
      place();
      keepInView();
      if (going) playing = requestAnimationFrame(frame);
      else pause();
    };
    playing = requestAnimationFrame(frame);
  }
  /** Whether the run goes on after so long. @param {number} seconds */
  function advance(seconds) {
    while (seconds > 0) {
      const move = moves[now.move];
      const rest = (move.ends - move.starts) * (1 - now.share);
      if (seconds < rest) {
        now.share += seconds / (move.ends - move.starts);
        return true;
      }
      seconds -= rest;
      now.share = 1;
      const next = moves[now.move + 1];
      if (!next) return false;
      const stop = next.stops > move.stops;
      [now.move, now.share] = [now.move + 1, 0];
      if (stop) {
        say("says", "The program stops here until the operator goes on.");
        return false;
      }
    }
    return true;
  }
  /** @param {number} time */
  function seek(time) {
    pause();
    let [low, high] = [0, moves.length - 1];
    while (low < high) {
      const middle = (low + high) >> 1;
      if (moves[middle].ends < time) low = middle + 1;
      else high = middle;
    }
    const move = moves[low];
    const span = move.ends - move.starts;
    [now.move, now.share] = [low, span > 0 ? Math.min(1, (time - move.starts) / span) : 1];
    mark(move.row);
    place();
  }
  /** @param {1 | -1} step */
  function toPass(step) {
    const at = passes.filter(([first]) => (step > 0 ? moves[first].row > now.row : moves[first].row < now.row));
    const pass = step > 0 ? at[0] : at.at(-1);
    if (pass) choose(moves[pass[0]].row);
  }

  // Hands and keys.
  const actions = {
    "next": () => choose(Math.min(now.row + 1, rows.length - 1)),
    "back": () => choose(Math.max(now.row - 1, 0)),
    "pass-next": () => toPass(1),
    "pass-back": () => toPass(-1),
    "play": () => (playing ? pause() : start()),
    "in": () => zoom(1.6),
    "out": () => zoom(1 / 1.6),
    "whole": whole,
    "tool-view": () => { view.width = Math.min(view.width, 24); toTool(); },
    "heights": () => {
      const taller = [...new Set([1, opened[3], 20])];
      view.stretch = taller[(taller.indexOf(view.stretch) + 1) % taller.length];
      draw();
    },
  };
  for (const [id, act] of Object.entries(actions)) byId(id, HTMLButtonElement).addEventListener("click", act);
  slider.addEventListener("input", () => seek((clock * Number(slider.value)) / 1000));
  /** @param {Event} event */
  const target = (event) => (event.target instanceof Element ? event.target : walk);
  listing.addEventListener("click", (event) => {
    const row = rowOf.get(target(event).closest("li"));
    if (row !== undefined) choose(row);
  });
  walk.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey || target(event).closest("select, input")) return;
    const inListing = listing.contains(target(event)), inScene = scene.contains(target(event));
    const step = 60;
    /** @type {Record<string, () => void>} */
    const keys = { n: actions.next, b: actions.back, p: actions.play, "+": actions.in, "=": actions.in, "-": actions.out, "0": whole };
    /** @type {Record<string, () => void>} */
    const arrows = inListing
      ? { ArrowDown: actions.next, ArrowUp: actions.back, Home: () => choose(0), End: () => choose(rows.length - 1) }
      : inScene
        ? { ArrowLeft: () => pan(step, 0), ArrowRight: () => pan(-step, 0), ArrowUp: () => pan(0, step), ArrowDown: () => pan(0, -step) }
        : {};
    const act = keys[event.key.toLowerCase()] ?? arrows[event.key];
    if (!act) return;
    event.preventDefault();
    act();
  });

  // One finger moves the picture, two zoom it, a tap chooses.
  /** @type {Map<number, Point>} */
  const fingers = new Map();
  let moved = 0;
  /** @param {MouseEvent} event @returns {Point} */
  const within = (event) => {
    const box = drawing.getBoundingClientRect();
    return [event.clientX - box.left, event.clientY - box.top];
  };
  drawing.addEventListener("pointerdown", (event) => {
    if (fingers.size === 0) moved = 0;
    fingers.set(event.pointerId, within(event));
    drawing.setPointerCapture(event.pointerId);
  });
  drawing.addEventListener("pointermove", (event) => {
    const before = fingers.get(event.pointerId);
    if (!before) return;
    const at = within(event);
    moved += Math.hypot(at[0] - before[0], at[1] - before[1]);
    const other = [...fingers].find(([id]) => id !== event.pointerId)?.[1];
    if (other) {
      /** @param {Point} p */
      const apart = (p) => Math.hypot(p[0] - other[0], p[1] - other[1]);
      if (apart(before) > 0) zoom(apart(at) / apart(before), [(at[0] + other[0]) / 2, (at[1] + other[1]) / 2]);
    } else if (moved > 6) {
      pan(at[0] - before[0], at[1] - before[1]);
    }
    fingers.set(event.pointerId, at);
  });
  /** @param {PointerEvent} event */
  const lift = (event) => {
    const alone = fingers.size === 1;
    if (fingers.delete(event.pointerId) && alone && moved <= 6 && event.type === "pointerup") pick(within(event));
  };
  drawing.addEventListener("pointerup", lift);
  drawing.addEventListener("pointercancel", lift);
  drawing.addEventListener("wheel", (event) => {
    if (!event.ctrlKey && !scene.contains(document.activeElement)) return;
    event.preventDefault();
    zoom(Math.exp(-event.deltaY / 300), within(event));
  }, { passive: false });
  for (const chart of charts) {
    chart.addEventListener("click", (event) => {
      const at = new DOMPoint(event.clientX, event.clientY).matrixTransform(chart.getScreenCTM()?.inverse());
      for (const { frame: [left, width, from, to, top, height, low, high] } of markers.filter((m) => m.chart === chart)) {
        if (at.x < left || at.x > left + width || at.y < top || at.y > top + height) continue;
        const depth = high < low ? low + ((high - low) * (top + height - at.y)) / height : Infinity;
        pickRadius(from + ((to - from) * (at.x - left)) / width, depth);
      }
    });
  }
  const toHash = () => {
    const row = rowOf.get(document.getElementById(location.hash.slice(1)));
    if (row !== undefined) choose(row);
  };
  addEventListener("hashchange", toHash);
  new ResizeObserver(fit).observe(scene);

  fit();
  choose(moves[passes.length ? passes[0][0] : 0].row);
  toHash();
})();
