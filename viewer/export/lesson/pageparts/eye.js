// Where the eye stands and how it moves; the same sums as viewer/cameras.py.
const HALF_LEAST = 5;
const HALF_MOST = 1000;
const TILT_MOST = (85 * Math.PI) / 180;
const AXES = [new THREE.Vector3(1, 0, 0), new THREE.Vector3(0, 1, 0), new THREE.Vector3(0, 0, 1)];

function eyeOf(numbers, aspect) {
  const half = Math.max(numbers.high, numbers.wide / aspect);
  return {
    focus: vector(numbers.focus), towards: vector(numbers.towards).normalize(), up: vector(numbers.up).normalize(),
    half, parallel: numbers.parallel,
  };
}

function rightOf(eye) {
  return eye.up.clone().cross(eye.towards).normalize();
}

// The axis that is kept upwards while the eye turns: the head's, unless another one is up.
function poleOf(eye) {
  const right = rightOf(eye);
  if (Math.abs(right.z) < 1e-4 && Math.abs(eye.up.z) > 0.05) return AXES[2].clone().multiplyScalar(Math.sign(eye.up.z));
  let best = 0;
  let most = -1;
  AXES.forEach((axis, i) => {
    const rank = (Math.abs(right.dot(axis)) < 1e-4 ? 2 : 0) + Math.abs(eye.up.dot(axis));
    if (rank > most) {
      most = rank;
      best = i;
    }
  });
  return AXES[best].clone().multiplyScalar(Math.sign(eye.up.dot(AXES[best])) || 1);
}

function turnedEye(eye, right, up) {
  const pole = poleOf(eye);
  const tilt = Math.asin(Math.min(1, Math.max(-1, eye.towards.dot(pole))));
  const step = Math.min(TILT_MOST - tilt, Math.max(-TILT_MOST - tilt, up));
  const towards = eye.towards.clone().applyAxisAngle(rightOf(eye), -step).applyAxisAngle(pole, right).normalize();
  return { ...eye, towards, up: pole.clone().addScaledVector(towards, -pole.dot(towards)).normalize() };
}

function zoomedEye(eye, factor) {
  return { ...eye, half: Math.min(HALF_MOST, Math.max(HALF_LEAST, eye.half / factor)) };
}

function movedEye(eye, right, up) {
  return { ...eye, focus: eye.focus.clone().addScaledVector(rightOf(eye), right).addScaledVector(eye.up, up) };
}

function turnOf(eye) {
  const basis = new THREE.Matrix4().makeBasis(rightOf(eye), eye.up, eye.towards);
  return new THREE.Quaternion().setFromRotationMatrix(basis);
}

function eyeBetween(a, b, share) {
  if (share >= 1) return b;
  const turn = turnOf(a).slerp(turnOf(b), share);
  return {
    focus: a.focus.clone().lerp(b.focus, share), towards: new THREE.Vector3(0, 0, 1).applyQuaternion(turn),
    up: new THREE.Vector3(0, 1, 0).applyQuaternion(turn), half: a.half * (b.half / a.half) ** share,
    parallel: b.parallel,
  };
}

const eased = (t) => t * t * (3 - 2 * t);

// Ways of the eye: { seconds, at(share) }. Along a nerve one comes near, goes its whole way, and ends at the step.
function straightTo(start, end) {
  return { seconds: 0.9, at: (t) => eyeBetween(start, end, eased(t)) };
}

function alongWay(start, end, follow) {
  const points = follow.points.map(vector);
  const half = Math.min(75, end.half);
  const near = (share) => {
    const i = Math.min(points.length - 2, Math.floor(share * (points.length - 1)));
    const focus = points[i].clone().lerp(points[i + 1], share * (points.length - 1) - i);
    return { ...end, focus, half };
  };
  const whole = Math.min(12, Math.max(4, (45 * follow.length) / 1000));
  const seconds = 0.9 + whole + 1;
  const [come, gone] = [0.9 / seconds, (0.9 + whole) / seconds];
  const at = (t) => {
    if (t < come) return eyeBetween(start, near(0), eased(t / come));
    if (t < gone) return near((t - come) / (gone - come));
    return eyeBetween(near(1), end, eased((t - gone) / (1 - gone)));
  };
  return { seconds, at };
}
