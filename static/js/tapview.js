// The picture under the hand: shown at any scale, with the points, what was worked out of them, and a loupe.
"use strict";

const INK = "#22408f", CASING = "#ffffff", DARK = "#26292c";
const LOUPE = 92; // radius on the screen
const MOST_ZOOM = 24; // screen pixels for one of the picture

class TapView {
  constructor(canvas, image, size) {
    this.canvas = canvas;
    this.paper = canvas.getContext("2d");
    this.size = size;
    this.levels = TapView.levelsOf(image);
    this.scale = 1;
    this.left = this.top = 0;
    this.asked = false;
    this.scene = null; // what is drawn: set by the page
    this.resize();
    this.fit();
  }

  // The picture at full, half and quarter size: a whole photo is shown quickly, and a close look is sharp.
  static levelsOf(image) {
    const levels = [image];
    for (let width = image.naturalWidth / 2; width > 500; width /= 2) {
      const from = levels.at(-1), smaller = document.createElement("canvas");
      smaller.width = Math.round(width);
      smaller.height = Math.round(width * image.naturalHeight / image.naturalWidth);
      smaller.getContext("2d").drawImage(from, 0, 0, smaller.width, smaller.height);
      levels.push(smaller);
    }
    return levels;
  }

  resize() {
    const box = this.canvas.getBoundingClientRect();
    this.sharp = window.devicePixelRatio || 1;
    [this.width, this.height] = [box.width, box.height];
    this.canvas.width = Math.round(box.width * this.sharp);
    this.canvas.height = Math.round(box.height * this.sharp);
    this.draw();
  }

  get fitting() { return Math.min(this.width / this.size[0], this.height / this.size[1]); }

  fit() {
    this.scale = this.fitting;
    this.left = (this.width - this.size[0] * this.scale) / 2;
    this.top = (this.height - this.size[1] * this.scale) / 2;
    this.draw();
  }

  toScreen([x, y]) { return [this.left + x * this.scale, this.top + y * this.scale]; }
  toPicture([x, y]) { return [(x - this.left) / this.scale, (y - this.top) / this.scale]; }

  zoom(factor, [x, y] = [this.width / 2, this.height / 2]) {
    const scale = Math.min(Math.max(this.scale * factor, this.fitting * 0.8), MOST_ZOOM);
    this.left = x - (x - this.left) * scale / this.scale;
    this.top = y - (y - this.top) * scale / this.scale;
    this.scale = scale;
    this.keepInSight();
  }

  pan(dx, dy) {
    this.left += dx;
    this.top += dy;
    this.keepInSight();
  }

  // A quarter of the frame always has picture in it.
  keepInSight() {
    const clamp = (value, size, frame) => Math.min(Math.max(value, frame * 0.25 - size), frame * 0.75);
    this.left = clamp(this.left, this.size[0] * this.scale, this.width);
    this.top = clamp(this.top, this.size[1] * this.scale, this.height);
    this.draw();
  }

  // Bring a point of the picture into the frame when it lies outside.
  show(point) {
    const [x, y] = this.toScreen(point), edge = 40;
    const off = (value, frame) => value < edge ? edge - value : value > frame - edge ? frame - edge - value : 0;
    this.pan(off(x, this.width), off(y, this.height));
  }

  draw() {
    if (this.asked) return;
    this.asked = true;
    requestAnimationFrame(() => { this.asked = false; if (this.scene) this.paint(); });
  }

  paint() {
    const paper = this.paper;
    paper.setTransform(this.sharp, 0, 0, this.sharp, 0, 0);
    paper.fillStyle = "#e9e4d8";
    paper.fillRect(0, 0, this.width, this.height);
    this.picture(this.left, this.top, this.scale, 0, 0, this.width, this.height);
    this.lines((point) => this.toScreen(point));
    this.points();
    const { cursor, loupe } = this.scene;
    if (cursor) this.cross(this.toScreen(cursor), 18);
    if (loupe) this.drawLoupe(loupe);
  }

  // The part of the picture that falls into a frame, from the level that is sharp enough.
  picture(left, top, scale, x, y, width, height) {
    const need = scale * this.sharp * this.size[0];
    const level = this.levels.findLast((each) => (each.naturalWidth || each.width) >= need) ?? this.levels[0];
    const wide = level.naturalWidth || level.width, high = level.naturalHeight || level.height;
    const per = [wide / this.size[0], high / this.size[1]];
    const from = [Math.max((x - left) / scale, 0), Math.max((y - top) / scale, 0)];
    const to = [Math.min((x + width - left) / scale, this.size[0]), Math.min((y + height - top) / scale, this.size[1])];
    if (to[0] <= from[0] || to[1] <= from[1]) return;
    this.paper.imageSmoothingEnabled = scale * this.sharp * this.size[0] / wide < 8;
    this.paper.imageSmoothingQuality = "high";
    this.paper.drawImage(level, from[0] * per[0], from[1] * per[1], (to[0] - from[0]) * per[0], (to[1] - from[1]) * per[1],
      left + from[0] * scale, top + from[1] * scale, (to[0] - from[0]) * scale, (to[1] - from[1]) * scale);
  }

  stroke(trace, width, dash = []) {
    for (const [ink, wide, gaps] of [[CASING, width + 3, []], [INK, width, dash]]) {
      this.paper.beginPath();
      trace(this.paper);
      this.paper.setLineDash(gaps);
      this.paper.lineWidth = wide;
      this.paper.strokeStyle = ink;
      this.paper.stroke();
    }
    this.paper.setLineDash([]);
  }

  // What was worked out: the rim, the axes, both edges.
  lines(place) {
    const { drawn, guessed } = this.scene;
    if (!drawn) return;
    const along = (points, closed = false) => (paper) => {
      points.map(place).forEach(([x, y], index) => index ? paper.lineTo(x, y) : paper.moveTo(x, y));
      if (closed) paper.closePath();
    };
    const dash = guessed ? [10, 6] : [];
    if (drawn.rim) this.stroke(along(drawn.rim, true), 2, dash);
    for (const axis of drawn.axes ?? []) this.stroke(along(axis), 1, [14, 4, 3, 4]);
    for (const edge of drawn.edges ?? []) this.stroke(along(edge), 2, dash);
  }

  points() {
    const { points, selected, active, guessed } = this.scene;
    for (const group of GROUPS) {
      points[group].forEach((point, index) => {
        const chosen = selected?.group === group && selected.index === index;
        this.sign(group, this.toScreen(point), chosen ? 12 : group === active ? 9 : 7, guessed, chosen);
      });
    }
  }

  // A ring for the rim, a diamond for the inner edge, a square for the outer one; open in the middle.
  sign(group, [x, y], size, guessed, chosen) {
    this.stroke((paper) => {
      if (group === "rim") paper.arc(x, y, size, 0, 2 * Math.PI);
      else if (group === "outer") paper.rect(x - size * 0.85, y - size * 0.85, size * 1.7, size * 1.7);
      else { paper.moveTo(x, y - size * 1.15); paper.lineTo(x + size * 1.15, y); paper.lineTo(x, y + size * 1.15); paper.lineTo(x - size * 1.15, y); paper.closePath(); }
    }, chosen ? 3 : guessed ? 1 : 1.75);
    if (guessed) return;
    this.paper.fillStyle = CASING;
    this.paper.fillRect(x - 2.5, y - 2.5, 5, 5);
    this.paper.fillStyle = DARK;
    this.paper.fillRect(x - 1.5, y - 1.5, 3, 3);
  }

  cross([x, y], size) {
    this.stroke((paper) => {
      for (const [dx, dy] of [[1, 0], [-1, 0], [0, 1], [0, -1]]) { paper.moveTo(x + dx * 4, y + dy * 4); paper.lineTo(x + dx * size, y + dy * size); }
    }, 2);
  }

  // The picture around a point, larger: beside the finger that covers it, else in the corner farthest from it.
  drawLoupe({ point, finger }) {
    const paper = this.paper, [x, y] = this.toScreen(point);
    const edge = LOUPE + 6;
    let at;
    if (finger) {
      at = [Math.min(Math.max(x, edge), this.width - edge), y - LOUPE - 64];
      if (at[1] < edge) at = [x < this.width / 2 ? Math.min(x + LOUPE + 80, this.width - edge) : Math.max(x - LOUPE - 80, edge), edge];
    } else {
      at = [x < this.width / 2 ? this.width - edge : edge, y < this.height / 2 ? this.height - edge : edge];
    }
    const scale = Math.min(Math.max(this.scale * 3, 1.5 / this.sharp), MOST_ZOOM);
    const left = at[0] - point[0] * scale, top = at[1] - point[1] * scale;
    paper.save();
    paper.beginPath();
    paper.arc(...at, LOUPE, 0, 2 * Math.PI);
    paper.fillStyle = "#e9e4d8";
    paper.fill();
    paper.clip();
    this.picture(left, top, scale, at[0] - LOUPE, at[1] - LOUPE, 2 * LOUPE, 2 * LOUPE);
    this.lines(([px, py]) => [left + px * scale, top + py * scale]);
    this.cross(at, LOUPE);
    paper.restore();
    paper.beginPath();
    paper.arc(...at, LOUPE, 0, 2 * Math.PI);
    for (const [ink, width] of [[CASING, 7], [DARK, 3]]) { paper.strokeStyle = ink; paper.lineWidth = width; paper.stroke(); }
  }
}
