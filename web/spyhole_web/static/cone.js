// A pyrometric cone as it stands or bends: the angle says where its tip is, seen from its foot.

const LEAN = 8;
const STEPS = 14;

/** Points of the middle line, foot at 0,0, leaning left, y down, for a cone of this length.
 * @param {number} bend degrees from upright of the line from foot to tip @param {number} length @returns {[number, number][]} */
export function middleLine(bend, length) {
  const wanted = Math.min(100, Math.max(LEAN, bend));
  // The foot keeps its lean. What hangs above weighs most on the lower half, so that is where it gives.
  let [low, high] = [0, 200];
  for (let i = 0; i < 30; i += 1) {
    const curl = (low + high) / 2;
    const [x, y] = /** @type {[number, number]} */ (walk(curl, length).at(-1));
    const chord = (Math.atan2(-x, -y) * 180) / Math.PI;
    if (chord < wanted) low = curl;
    else high = curl;
  }
  return walk(low, length);
}

/** @param {number} curl degrees added from foot to tip @param {number} length @returns {[number, number][]} */
function walk(curl, length) {
  /** @type {[number, number][]} */
  const points = [[0, 0]];
  let [x, y] = [0, 0];
  for (let i = 0; i < STEPS; i += 1) {
    const angle = ((LEAN + curl * (1 - (1 - (i + 0.5) / STEPS) ** 2)) * Math.PI) / 180;
    x -= (Math.sin(angle) * length) / STEPS;
    y -= (Math.cos(angle) * length) / STEPS;
    points.push([x, y]);
  }
  return points;
}

/** The slab as a path, foot at 0,0. @param {number} bend @param {number} length @param {number} foot width @param {number} tip width */
export function slab(bend, length, foot, tip) {
  const line = middleLine(bend, length);
  /** @type {string[]} */
  const left = [];
  /** @type {string[]} */
  const right = [];
  line.forEach(([x, y], i) => {
    const [ax, ay] = /** @type {[number, number]} */ (line[Math.max(0, i - 1)]);
    const [bx, by] = /** @type {[number, number]} */ (line[Math.min(line.length - 1, i + 1)]);
    const run = Math.hypot(bx - ax, by - ay);
    const half = (foot + ((tip - foot) * i) / (line.length - 1)) / 2;
    const [nx, ny] = i === 0 ? [1, 0] : [-(by - ay) / run, (bx - ax) / run];
    left.push(`${(x - nx * half).toFixed(1)} ${(y - ny * half).toFixed(1)}`);
    right.unshift(`${(x + nx * half).toFixed(1)} ${(y + ny * half).toFixed(1)}`);
  });
  return `M${[...left, ...right].join("L")}Z`;
}
