// A photograph from the phone, made small enough for the record before it travels.

import { NotDone, ask, who } from "./act.js";

const LARGEST_SIDE = 1600; // a cone a tenth of the picture high still has a hundred pixels to bend in
const LARGEST_BYTES = 1_000_000;

/** @param {File} file @returns {Promise<string>} what is said of it once it is in the record */
export async function kept(file) {
  await ask("POST", `/api/photos?who=${encodeURIComponent(who())}`, await smaller(file));
  return "The photograph is kept.";
}

/** @param {File} file @returns {Promise<Blob>} JPEG, without what the phone wrote into it of place and person */
export async function smaller(file) {
  const picture = await createImageBitmap(file, { imageOrientation: "from-image" }).catch(() => {
    throw new NotDone("This file is no picture that the phone can show. Choose another.");
  });
  for (const [side, quality] of /** @type {const} */ ([[LARGEST_SIDE, 0.8], [LARGEST_SIDE, 0.6], [1000, 0.6]])) {
    const scale = Math.min(1, side / Math.max(picture.width, picture.height));
    const canvas = document.createElement("canvas");
    canvas.width = Math.max(1, Math.round(picture.width * scale));
    canvas.height = Math.max(1, Math.round(picture.height * scale));
    canvas.getContext("2d")?.drawImage(picture, 0, 0, canvas.width, canvas.height);
    const blob = await new Promise((/** @type {(made: Blob | null) => void} */ done) => canvas.toBlob(done, "image/jpeg", quality));
    if (blob && blob.size <= LARGEST_BYTES) return blob;
  }
  throw new NotDone("This picture could not be made small enough. Choose another.");
}
