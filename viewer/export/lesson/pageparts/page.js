// The lesson being read: which step, whether its answer is shown, whether the eye has left the step.
const at = { index: 0, revealed: false, left: false, body: true, begun: false };
const words = $("words");
const flat = new Flat($("flat"), $("picture"));
let field = null;
let names = null;
let flight = null;
let keysTurn = false;
let handDown = false;
const step = () => held.steps[at.index];

async function startField() {
  try {
    await openMeshes();
  } catch (error) {
    noField("This browser is too old to open the body in 3D, so every step shows its picture.");
    return;
  }
  try {
    field = new Field($("canvas"));
  } catch (error) {
    noField("This browser cannot draw the body in 3D (it lacks WebGL 2), so every step shows its picture.");
    return;
  }
  names = new Names(field, $("names"));
  field.onDrawn = (camera) => {
    names.put(camera);
    if (!field.rests) names.soon(700);
  };
  field.onRest = () => names.refresh();
  $("canvas").addEventListener("webglcontextlost", () => {
    noField("The browser took away the means to draw in 3D, so every step shows its picture; load the page again.");
    showStep();
  });
  handOn($("canvas"), {
    turn: (right, up) => leave((eye) => turnedEye(eye, right, up)),
    zoom: (factor) => leave((eye) => zoomedEye(eye, factor)),
    move: (right, up) => leave((eye) => {
      const each = (2 * eye.half) / field.height;
      return movedEye(eye, right * each, up * each);
    }),
    tap: nameAt,
    hold: (held) => {
      handDown = held;
      if (field) field.hold(held || flight !== null);
    },
  });
}

function noField(why) {
  field = null;
  flight = null;
  if (names) names.empty();
  $("why").textContent = why;
  $("why").hidden = false;
}

// --- the eye

const home = () => eyeOf(step().eye, Math.max(0.4, (field.width - (field.width < 560 ? 0 : 200)) / field.height));

function leave(change) {
  if (!field || !field.eye) return;
  if (flight) land();
  field.look(change(field.eye));
  setLeft(true);
}

function setLeft(left) {
  at.left = left;
  $("return").hidden = !left;
}

function comeBack() {
  if (isFlat()) {
    flat.scale(0);
    setLeft(false);
    return;
  }
  fly(straightTo(field.eye, home()));
  setLeft(false);
}

function land() {
  flight = null;
  field.hold(handDown);
}

function fly(way) {
  if (still.matches) {
    field.look(way.at(1));
    land();
    return;
  }
  const mine = { way, start: 0 };
  flight = mine;
  field.hold(true);
  const frame = (now) => {
    if (flight !== mine) return;
    // The first picture of a step takes longest, for its solids are new: the clock starts behind it.
    const share = mine.start ? Math.min(1, (now - mine.start) / (1000 * way.seconds)) : 0;
    if (mine.drawn) mine.start = mine.start || now;
    mine.drawn = true;
    field.look(way.at(share));
    if (share >= 1) land();
    if (share < 1) requestAnimationFrame(frame);
  };
  requestAnimationFrame(frame);
}

// --- steps

const isFlat = () => !field || !at.body;

function showStep() {
  const now = step();
  const other = $("other");
  setLeft(false);
  $("flat").hidden = !isFlat();
  $("canvas").hidden = isFlat();
  $("names").style.display = isFlat() ? "none" : "";
  $("keys").hidden = isFlat();
  other.hidden = !field || now.kind === "body";
  other.textContent = at.body ? (now.kind === "film" ? "Show the film" : "Show the picture") : "Show the body in 3D";
  const seen = at.body && field ? now.seen3d : now.seen;
  $("seen").textContent = seen;
  $("canvas").setAttribute("aria-label", seen);
  $("told").textContent = "";
  if (isFlat()) {
    if (flight) land();
    flat.show(held.pictures[now.picture], seen);
    return;
  }
  const from = field.eye;
  field.resize();
  field.show(now);
  names.empty();
  const end = home();
  if (!from || at.jumped || now.transition === "cut") {
    field.look(end);
    land();
  } else if (now.follow) fly(alongWay(from, end, now.follow));
  else fly(straightTo(from, end));
}

function showWords(moved) {
  const { index, revealed } = at;
  words.replaceChildren(...stepWords(step(), index, revealed, () => reveal(true)));
  if (moved) words.scrollTop = 0;
  $("count").textContent = `${index + 1} of ${held.steps.length}`;
  $("back").disabled = index === 0;
  const waits = !revealed && step().answer.length > 0;
  $("next").disabled = !waits && index === held.steps.length - 1;
  $("next").textContent = waits ? "Answer" : "Next";
  document.title = `${index + 1}. ${step().title} - ${held.title}`;
  $("list").querySelectorAll("a").forEach((link, i) => {
    if (i === index) link.setAttribute("aria-current", "step");
    else link.removeAttribute("aria-current");
  });
}

function go(index, revealed = false, jumped = false) {
  const to = Math.min(Math.max(index, 0), held.steps.length - 1);
  Object.assign(at, { index: to, revealed, jumped, body: held.steps[to].kind === "body" });
  if (location.hash !== `#${step().id}`) history.replaceState(null, "", `#${step().id}`);
  showWords(true);
  showStep();
  at.jumped = false;
}

function reveal(byHand) {
  at.revealed = true;
  showWords(false);
  const answer = $("answered");
  if (answer) answer.scrollIntoView({ block: "nearest" });
  if (answer && byHand) answer.focus({ preventScroll: true });
  const box = words.querySelector(".question");
  if (box) box.scrollIntoView({ block: "nearest" });
}

// As the lesson is given: a question waits for one more step, then its answer is there.
function forward() {
  if (!at.revealed && step().answer.length) reveal(false);
  else if (at.index < held.steps.length - 1) go(at.index + 1);
}

function back() {
  if (at.index > 0) go(at.index - 1, true);
}

// --- what a finger points at

function nameAt(x, y) {
  const seen = field.seen();
  const [column, row] = [Math.min(seen.width - 1, x / 2), Math.min(seen.height - 1, y / 2)];
  let best = -1;
  // A thin nerve is hard to hit: the nearest thing within a few pixels that is no ground.
  for (let reach = 0; reach <= 4 && best < 0; reach += 1) {
    for (const [dx, dy] of [[0, 0], [reach, 0], [-reach, 0], [0, reach], [0, -reach]]) {
      const [cx, cy] = [Math.round(column + dx), Math.round(row + dy)];
      if (cx >= 0 && cy >= 0 && cx < seen.width && cy < seen.height && best < 0) best = seen.is(cx, cy);
    }
  }
  const known = held.structures[best];
  $("told").textContent = known ? `${known.name}${known.roots ? ` (${known.roots})` : ""}` : "";
}

// --- keys

const TURNS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] };
const STEPS = {
  PageDown: forward, ArrowRight: forward, " ": forward, PageUp: back, ArrowLeft: back,
  Home: () => go(0), End: () => go(held.steps.length - 1),
};

function onKey(event) {
  if (event.ctrlKey || event.metaKey || event.altKey) return;
  const { key, target } = event;
  if (key === "Escape" && !$("list").hidden) {
    openList(false);
    return;
  }
  if (key === " " && target.closest("button, a")) return;
  if (key in TURNS && (event.shiftKey || keysTurn) && !isFlat()) {
    const [right, up] = TURNS[key];
    leave((eye) => turnedEye(eye, right * TURN_PER_KEY, up * TURN_PER_KEY));
  } else if (key === "+" || key === "=") nearer(ZOOM_PER_KEY);
  else if (key === "-") nearer(1 / ZOOM_PER_KEY);
  else if (key === "ArrowDown" || key === "ArrowUp") words.scrollBy(0, key === "ArrowDown" ? 60 : -60);
  else if (key in STEPS && !event.shiftKey) STEPS[key]();
  else return;
  event.preventDefault();
}

function nearer(factor) {
  if (!isFlat()) {
    leave((eye) => zoomedEye(eye, factor));
    return;
  }
  flat.scale(factor);
  setLeft(flat.isMoved);
}

function openList(open) {
  $("list").hidden = !open;
  $("list-button").setAttribute("aria-expanded", String(open));
  if (open) $("list").querySelector("[aria-current]").focus();
  else $("list-button").focus();
}

// --- begin

async function begin() {
  $("title").textContent = held.title;
  $("caution").textContent = held.caution;
  const list = $("list").querySelector("ol");
  held.steps.forEach((one, i) => {
    const link = make("a");
    link.href = `#${one.id}`;
    link.append(make("span", String(i + 1), "number"), told("span", one.title));
    link.addEventListener("click", (event) => {
      event.preventDefault();
      go(i);
      openList(false);
    });
    const row = make("li");
    row.append(link);
    list.append(row);
  });
  $("list-button").addEventListener("click", () => openList($("list").hidden));
  $("next").addEventListener("click", forward);
  $("back").addEventListener("click", back);
  $("larger").addEventListener("click", () => nearer(ZOOM_PER_KEY));
  $("smaller").addEventListener("click", () => nearer(1 / ZOOM_PER_KEY));
  $("return").addEventListener("click", comeBack);
  $("keys").addEventListener("click", () => {
    keysTurn = !keysTurn;
    $("keys").setAttribute("aria-pressed", String(keysTurn));
  });
  $("other").addEventListener("click", () => {
    Object.assign(at, { body: !at.body, jumped: true });
    showStep();
    at.jumped = false;
  });
  document.addEventListener("keydown", onKey);
  swipeOn(words, (way) => (way > 0 ? forward() : back()));
  swipeOn($("flat"), (way) => { if (!flat.isMoved) (way > 0 ? forward : back)(); });
  handOnPicture(flat);
  dark.addEventListener("change", () => {
    showWords(false);
    if (!isFlat()) field.show(step());
  });
  window.addEventListener("hashchange", () => go(fromAddress(), false, true));
  new ResizeObserver(() => {
    if (!at.begun) return;
    if (isFlat()) {
      flat.fit();
      return;
    }
    field.resize();
    if (!at.left && !flight && field.eye) field.look(home());
    else field.ask();
  }).observe($("stage"));
  await startField();
  at.begun = true;
  go(fromAddress(), false, true);
  $("print").replaceChildren(...printed());
}

function fromAddress() {
  // Ids are small letters, digits and lines: nothing in an address has to be decoded.
  return Math.max(0, held.steps.findIndex((one) => location.hash === `#${one.id}`));
}

begin();
