// Names in the field: beside what is seen now, with a line to it; gone with what is covered or turned away.
const LINE = "http://www.w3.org/2000/svg";
const LETTERS = 13;
const APART = 19;

class Names {
  constructor(field, layer) {
    this.field = field;
    this.layer = layer;
    this.found = [];
    this.timer = 0;
    this.measured = null;
  }

  // Ask anew what is seen; called when the field rests, and now and then while it moves.
  refresh() {
    const { field } = this;
    clearTimeout(this.timer);
    this.timer = 0;
    this.found = field.step ? this.search(field.seen()) : [];
    this.put();
  }

  soon(wait) {
    if (this.timer) return;
    this.timer = setTimeout(() => this.refresh(), wait);
  }

  empty() {
    clearTimeout(this.timer);
    this.timer = 0;
    this.found = [];
    this.layer.replaceChildren();
  }

  search(seen) {
    const rows = new Map(this.wanted().map((row) => [row.is, { row, xs: [], ys: [] }]));
    for (let y = 0; y < seen.height; y += 1) {
      for (let x = 0; x < seen.width; x += 1) {
        const spot = rows.get(seen.is(x, y));
        if (spot) {
          spot.xs.push(x);
          spot.ys.push(y);
        }
      }
    }
    const taken = [];
    const kept = [];
    for (const spot of rows.values()) {
      if (spot.xs.length < (spot.row.sure ? 1 : 24)) continue;
      const [x, y] = pointAt(this.clear(this.inRing(spot, seen), seen), taken, seen);
      taken.push([x, y]);
      const far = seen.far(x, y);
      kept.push({ row: spot.row, far, place: placeOf(x, y, far, seen) });
    }
    return oneOfEachPair(kept, this.field.step).slice(0, this.room());
  }

  // Down the portal a thing is pointed at within the ring, if it is seen there.
  inRing(spot, seen) {
    const { portal, down } = this.field.step;
    if (!down) return spot;
    const middle = vector(portal.end).project(seen.camera);
    const edge = vector(portal.end).addScaledVector(this.field.eye.up, portal.radius).project(seen.camera);
    const [x, y] = [((middle.x + 1) / 2) * seen.width, ((1 - middle.y) / 2) * seen.height];
    const radius = (Math.hypot(edge.x - middle.x, edge.y - middle.y) / 2) * seen.height;
    return part(spot, (u, v) => Math.hypot(u - x, v - y) < radius, 1);
  }

  // What is seen beside the names, rather than under them.
  clear(spot, seen) {
    const edge = (this.field.width < 560 ? 0.28 : 0.22) * seen.width;
    return part(spot, (x) => x > edge && x < seen.width - edge, 12);
  }

  // What a step is about carries its name alone; where a step points at nothing, what comes first does.
  wanted() {
    const rows = this.field.step.names;
    const meant = rows.filter((row) => row.sure || row.heavy);
    return meant.length ? meant : rows;
  }

  // How many names there is room for: on a phone few, for the body is what is looked at.
  room() {
    const { width, height } = this.field;
    const meant = this.field.step.names.some((row) => row.sure || row.heavy);
    const most = meant ? 16 : 10;
    return width < 560 ? Math.min(most, 6) : Math.min(most, 2 * Math.floor((height - 90) / 40));
  }

  // Every name at its place in the picture that is drawn now.
  put(camera = this.field.placed()) {
    const { width, height } = this.field;
    this.layer.replaceChildren();
    this.layer.setAttribute("viewBox", `0 0 ${width} ${height}`);
    const sides = { left: [], right: [] };
    for (const one of this.found) {
      const spot = one.place.clone().project(camera);
      const x = ((spot.x + 1) / 2) * width;
      const y = ((1 - spot.y) / 2) * height;
      if (Math.abs(spot.x) > 1 || Math.abs(spot.y) > 1) continue;
      sides[x < width / 2 ? "left" : "right"].push({ ...one, x, y });
    }
    for (const [side, list] of Object.entries(sides)) {
      list.sort((a, b) => a.y - b.y);
      spread(list, side === "left" ? 104 : 40, height - 66);
      for (const one of list) this.write(one, side, width);
    }
    this.span(camera);
    wayUp(this);
    scaleBar(this);
  }

  write({ row, x, y, at }, side, width) {
    const text = document.createElementNS(LINE, "text");
    text.textContent = row.text;
    text.setAttribute("y", at + LETTERS / 3);
    text.setAttribute("x", side === "left" ? 8 : width - 8);
    text.setAttribute("text-anchor", side === "left" ? "start" : "end");
    if (row.heavy) text.setAttribute("class", "heavy");
    this.layer.append(text);
    const long = text.getComputedTextLength() + 13;
    const from = side === "left" ? long : width - long;
    // A name that lies over what it names needs no line.
    if (side === "left" ? x > from : x < from) this.line(from, at, x, y);
    this.dot(x, y);
  }

  line(x1, y1, x2, y2) {
    const line = document.createElementNS(LINE, "line");
    Object.entries({ x1, y1, x2, y2 }).forEach(([key, value]) => line.setAttribute(key, value));
    this.layer.prepend(line);
  }

  word(text, x, y, anchor) {
    const word = document.createElementNS(LINE, "text");
    word.textContent = text;
    Object.entries({ x, y, "text-anchor": anchor, class: "small" }).forEach(([key, value]) => word.setAttribute(key, value));
    this.layer.append(word);
  }

  dot(cx, cy, r = 2, kind = "dot") {
    const dot = document.createElementNS(LINE, "circle");
    Object.entries({ cx, cy, r, class: kind }).forEach(([key, value]) => dot.setAttribute(key, value));
    this.layer.append(dot);
  }

  ring(x, y, r) { this.dot(x, y, r, "ring"); }

  // The measured length between two points.
  span(camera) {
    const points = this.field.step.measured;
    if (points.length !== 2) return;
    const { width, height } = this.field;
    const ends = points.map((point) => {
      const spot = vector(point).project(camera);
      return [((spot.x + 1) / 2) * width, ((1 - spot.y) / 2) * height];
    });
    this.line(...ends[0], ...ends[1]);
    ends.forEach((end) => this.dot(...end));
    const text = document.createElementNS(LINE, "text");
    text.textContent = `${vector(points[0]).distanceTo(vector(points[1])).toFixed(1)} mm`;
    text.setAttribute("x", (ends[0][0] + ends[1][0]) / 2 + 6);
    text.setAttribute("y", (ends[0][1] + ends[1][1]) / 2 - 6);
    this.layer.append(text);
  }
}

// Arrows to the head, the front and the left, as they lie in the picture; what runs along the line of sight is a ring
// with the side that faces the reader.
const WAYS = [[[0, 0, 1], "Head", "Feet"], [[0, -1, 0], "Front", "Back"], [[1, 0, 0], "Left", "Right"]];

function wayUp(names) {
  const { eye } = names.field;
  const right = rightOf(eye);
  const [x, y, long] = [62, 54, 26];
  for (const [axis, word, opposite] of WAYS) {
    const way = vector(axis);
    const [dx, dy] = [way.dot(right), -way.dot(eye.up)];
    if (Math.hypot(dx, dy) < 0.3) {
      names.ring(x, y, 5);
      names.word(way.dot(eye.towards) > 0 ? word : opposite, x + 9, y + 16, "start");
      continue;
    }
    names.line(x, y, x + dx * long, y + dy * long);
    names.dot(x + dx * long, y + dy * long);
    names.word(word, x + dx * (long + 20), y + dy * (long + 11) + 4, "middle");
  }
}

// A round length beside the field, where lengths can be read off: with parallel rays.
function scaleBar(names) {
  const { eye, width, height } = names.field;
  if (!eye.parallel) return;
  const each = height / (2 * eye.half);
  const length = [100, 50, 20, 10, 5, 2, 1].find((mm) => mm * each < 0.16 * width) || 1;
  const [x, y] = [width - 12, 26];
  names.line(x - length * each, y, x, y);
  for (const end of [x - length * each, x]) names.line(end, y - 4, end, y + 4);
  names.word(`${length} mm`, x, y - 8, "end");
}

// The seen point near the middle of a structure, rather on its outer side, and apart from what others point at.
function pointAt({ xs, ys }, taken, seen) {
  const share = (values, part) => [...values].sort((a, b) => a - b)[Math.floor(part * (values.length - 1))];
  const middle = share(xs, 0.5);
  const lean = Math.min(1, Math.max(-1, (middle - seen.width / 2) / (0.12 * seen.width)));
  const wanted = [share(xs, 0.5 + 0.25 * lean), share(ys, 0.5)];
  const skip = Math.max(1, Math.floor(xs.length / 600));
  let best = 0;
  let least = Infinity;
  for (let i = 0; i < xs.length; i += skip) {
    const near = taken.some(([x, y]) => Math.hypot(x - xs[i], y - ys[i]) < 0.03 * seen.height);
    const gap = Math.hypot(xs[i] - wanted[0], ys[i] - wanted[1]) + (near ? 1e4 : 0);
    if (gap < least) {
      least = gap;
      best = i;
    }
  }
  return [xs[best], ys[best]];
}

// Those of the seen points that are as asked, where there are enough of them; else all.
function part({ xs, ys }, asked, least) {
  const kept = xs.map((_, i) => i).filter((i) => asked(xs[i], ys[i]));
  if (kept.length < least) return { xs, ys };
  return { xs: kept.map((i) => xs[i]), ys: kept.map((i) => ys[i]) };
}

function placeOf(x, y, far, seen) {
  const flat = new THREE.Vector3((2 * (x + 0.5)) / seen.width - 1, 1 - (2 * (y + 0.5)) / seen.height, 2 * far - 1);
  return flat.unproject(seen.camera);
}

// Of a pair one is named: the nearer one; side by side the one that speaks for both. What is lit always is.
function oneOfEachPair(found, step) {
  const here = new Map(found.map((one) => [one.row.is, one]));
  const deep = 15 / (2 * step.reach);
  return found.filter((one) => {
    const twin = here.get(one.row.twin);
    if (!twin || one.row.heavy) return true;
    if (twin.row.heavy) return false;
    return Math.abs(one.far - twin.far) > deep ? one.far < twin.far : one.row.speaks;
  });
}

// Heights moved apart, within the field; `at` is where the name stands.
function spread(list, top, bottom) {
  list.forEach((one, i) => { one.at = Math.max(one.y, i ? list[i - 1].at + APART : top); });
  let limit = bottom;
  for (let i = list.length - 1; i >= 0; i -= 1) {
    list[i].at = Math.min(list[i].at, limit);
    limit = list[i].at - APART;
  }
}
