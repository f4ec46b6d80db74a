// Mouse, finger and keys on the field: a drag turns, two fingers or the wheel bring nearer, a tap names.
const TURN_PER_PIXEL = 0.0075;
const TURN_PER_KEY = (7.5 * Math.PI) / 180;
const ZOOM_PER_KEY = 1.2;

// doing : { hold(held), turn(right, up), zoom(factor), move(right, up) in pixels, tap(x, y) }
function handOn(canvas, doing) {
  const down = new Map();
  let still = null;
  const spot = (event) => {
    const box = canvas.getBoundingClientRect();
    return { x: event.clientX - box.left, y: event.clientY - box.top };
  };
  const pair = () => {
    const [a, b] = [...down.values()];
    return { x: (a.x + b.x) / 2, y: (a.y + b.y) / 2, far: Math.hypot(a.x - b.x, a.y - b.y) || 1 };
  };
  canvas.addEventListener("pointerdown", (event) => {
    canvas.setPointerCapture(event.pointerId);
    doing.hold(true);
    down.set(event.pointerId, spot(event));
    still = down.size === 1 && event.button === 0 ? { ...spot(event), when: event.timeStamp } : null;
  });
  canvas.addEventListener("pointermove", (event) => {
    const before = down.get(event.pointerId);
    if (!before) return;
    const now = spot(event);
    if (still && Math.hypot(now.x - still.x, now.y - still.y) < 6) return;
    still = null;
    if (down.size === 2) {
      const was = pair();
      down.set(event.pointerId, now);
      const is = pair();
      doing.zoom(is.far / was.far);
      doing.move(was.x - is.x, is.y - was.y);
      return;
    }
    down.set(event.pointerId, now);
    if (event.buttons > 1 || event.shiftKey) doing.move(before.x - now.x, now.y - before.y);
    else doing.turn((before.x - now.x) * TURN_PER_PIXEL, (now.y - before.y) * TURN_PER_PIXEL);
  });
  const up = (event) => {
    if (still && event.type === "pointerup" && event.timeStamp - still.when < 600) doing.tap(still.x, still.y);
    still = null;
    down.delete(event.pointerId);
    doing.hold(down.size > 0);
  };
  canvas.addEventListener("pointerup", up);
  canvas.addEventListener("pointercancel", up);
  canvas.addEventListener("contextmenu", (event) => event.preventDefault());
  canvas.addEventListener("wheel", (event) => {
    event.preventDefault();
    doing.zoom(Math.exp(-event.deltaY * (event.deltaMode ? 0.05 : 0.0015)));
  }, { passive: false });
}

// A picture is moved by a mouse as by a finger.
function handOnPicture(flat) {
  const { frame } = flat;
  let from = null;
  frame.addEventListener("pointerdown", (event) => {
    if (event.pointerType === "mouse") from = { x: event.clientX + frame.scrollLeft, y: event.clientY + frame.scrollTop };
  });
  window.addEventListener("pointermove", (event) => {
    if (!from) return;
    frame.scrollLeft = from.x - event.clientX;
    frame.scrollTop = from.y - event.clientY;
  });
  window.addEventListener("pointerup", () => { from = null; });
  frame.addEventListener("wheel", (event) => {
    event.preventDefault();
    const box = frame.getBoundingClientRect();
    flat.scale(Math.exp(-event.deltaY * 0.0015), event.clientX - box.left, event.clientY - box.top);
  }, { passive: false });
}

// A finger that goes aside over the words steps; up and down it scrolls them.
function swipeOn(place, step) {
  let from = null;
  place.addEventListener("touchstart", (event) => {
    const [touch] = event.touches;
    from = event.touches.length === 1 ? { x: touch.clientX, y: touch.clientY, when: event.timeStamp } : null;
  }, { passive: true });
  place.addEventListener("touchend", (event) => {
    const [touch] = event.changedTouches;
    const start = from;
    from = null;
    if (!start || event.timeStamp - start.when > 800) return;
    const [right, down] = [touch.clientX - start.x, touch.clientY - start.y];
    if (Math.abs(right) > 55 && Math.abs(right) > 2 * Math.abs(down)) step(right < 0 ? 1 : -1);
  }, { passive: true });
}
