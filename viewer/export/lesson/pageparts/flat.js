// A picture in place of the body: a film, a picture of the step's own, or the still of a step where nothing draws 3D.
class Flat {
  constructor(frame, image) {
    this.frame = frame;
    this.image = image;
    this.zoom = 1;
    image.addEventListener("load", () => this.fit());
  }

  show(address, says) {
    this.zoom = 1;
    this.image.alt = says;
    if (this.image.src !== address) this.image.src = address;
    this.fit();
  }

  fit() {
    const { naturalWidth: wide, naturalHeight: high } = this.image;
    if (!wide || !this.frame.clientWidth) return;
    const share = Math.min(this.frame.clientWidth / wide, this.frame.clientHeight / high) * this.zoom;
    this.image.style.width = `${Math.floor(wide * share)}px`;
    this.image.style.height = `${Math.floor(high * share)}px`;
  }

  // About the middle of what is seen, or about a point of the frame.
  scale(factor, x = this.frame.clientWidth / 2, y = this.frame.clientHeight / 2) {
    const before = this.zoom;
    this.zoom = Math.min(8, Math.max(1, this.zoom * factor));
    const grown = this.zoom / before;
    const [left, top] = [this.frame.scrollLeft + x, this.frame.scrollTop + y];
    this.fit();
    this.frame.scrollLeft = left * grown - x;
    this.frame.scrollTop = top * grown - y;
  }

  get isMoved() { return this.zoom > 1.001; }
}
