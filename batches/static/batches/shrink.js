/* A photo is made smaller before it is kept: a sixth of its size, and without the place it was taken at. */
"use strict";

const shrink = (() => {
  const LONGEST_PX = 2000;
  const QUALITY = 0.85;

  async function shrink(file) {
    try {
      const picture = await createImageBitmap(file, { imageOrientation: "from-image" });
      const scale = Math.min(1, LONGEST_PX / Math.max(picture.width, picture.height));
      const sheet = document.createElement("canvas");
      sheet.width = Math.round(picture.width * scale);
      sheet.height = Math.round(picture.height * scale);
      const brush = sheet.getContext("2d");
      brush.imageSmoothingQuality = "high";
      brush.drawImage(picture, 0, 0, sheet.width, sheet.height);
      picture.close();
      const small = await new Promise((resolve) => sheet.toBlob(resolve, "image/jpeg", QUALITY));
      return small && (scale < 1 || small.size < file.size) ? small : file;
    } catch {
      return file; // a kind that this browser cannot read: the studio reads more
    }
  }

  return shrink;
})();
