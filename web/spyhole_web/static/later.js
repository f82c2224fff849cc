// What comes at once after the first look: one file, since it is bound (binding.py).

export { growCurve, openCurve, reloadCurve } from "./curve.js";
export { showEntries } from "./entries.js";
export { openSound, wantSound } from "./sound.js";
export { showTimer } from "./timer.js";
