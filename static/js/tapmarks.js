// Points tapped on a picture, in three groups, with what was undone and what this browser keeps until it is saved.
// Coordinates are pixels of the upright picture as it was taken, whatever size of it is shown.
"use strict";

const GROUPS = ["rim", "inner", "outer"];
const GROUP_NAMES = { rim: "Rim", inner: "Inner edge", outer: "Outer edge" };
const ENOUGH = { rim: 5, inner: 2, outer: 2 };
const MOST_POINTS = 60;
const MOST_UNDONE = 200;

class TapMarks {
  // `key` names the draft in this browser; `size` is [width, height] of the picture.
  constructor(key, size, start) {
    this.key = key;
    this.size = size;
    this.groups = { rim: [], inner: [], outer: [] };
    this.active = "rim";
    this.selected = null; // {group, index}
    this.done = [];
    this.undone = [];
    this.guess = null; // points offered from the picture, in the same groups, until they are accepted
    this.choices = { toward_shaft: "", toward_front: "", stem_at: "", rim_diameter: { text: "", unit: "in" } };
    this.ids = null; // what the readings of these taps are called, made once for each state of the taps
    this.fromDraft = this.readDraft();
    if (start && (!this.fromDraft || !this.count)) this.take(start);
  }

  get count() { return GROUPS.reduce((sum, group) => sum + this.groups[group].length, 0); }
  get point() { return this.selected && this.groups[this.selected.group][this.selected.index]; }
  get shown() { return this.guess ?? this.groups; }
  enough(group) { return this.shown[group].length >= ENOUGH[group]; }

  take(told) {
    for (const group of GROUPS) this.groups[group] = (told[group] ?? []).map((point) => [...point]);
    for (const name of Object.keys(this.choices)) if (told[name]) this.choices[name] = told[name];
  }

  // ---- what this browser keeps ------------------------------------------------------------------------------------

  readDraft() {
    try {
      const kept = JSON.parse(localStorage.getItem(this.key) ?? "null");
      if (!kept) return false;
      this.take(kept);
      this.ids = kept.ids ?? null;
      return true;
    } catch {
      return false;
    }
  }

  keepDraft() {
    try {
      localStorage.setItem(this.key, JSON.stringify({ ...this.groups, ...this.choices, ids: this.ids }));
      return true;
    } catch {
      return false;
    }
  }

  dropDraft() {
    try { localStorage.removeItem(this.key); } catch { /* nothing was kept either */ }
  }

  // The readings' own numbers. The same taps sent twice carry the same ones; other taps carry others.
  readingIds(names) {
    const meant = JSON.stringify([this.groups, this.choices]);
    if (this.ids?.of !== meant) this.ids = { of: meant, made: Object.fromEntries(names.map((name) => [name, makeId()])) };
    this.keepDraft();
    return this.ids.made;
  }

  // ---- changes, each of which can be undone -----------------------------------------------------------------------

  remember() {
    this.done.push(JSON.stringify(this.groups));
    if (this.done.length > MOST_UNDONE) this.done.shift();
    this.undone = [];
  }

  goTo(from, to) {
    if (!from.length) return false;
    to.push(JSON.stringify(this.groups));
    this.groups = JSON.parse(from.pop());
    this.selected = null;
    return true;
  }

  undo() { return this.goTo(this.done, this.undone); }
  redo() { return this.goTo(this.undone, this.done); }

  within([x, y]) {
    const round = (value) => Math.round(value * 100) / 100;
    return [round(Math.min(Math.max(x, 0), this.size[0])), round(Math.min(Math.max(y, 0), this.size[1]))];
  }

  add(point, select = true) {
    const points = this.groups[this.active];
    if (points.length >= MOST_POINTS) return false;
    this.remember();
    points.push(this.within(point));
    this.selected = select ? { group: this.active, index: points.length - 1 } : null;
    return true;
  }

  move(point) { if (this.selected) this.groups[this.selected.group][this.selected.index] = this.within(point); }

  remove() {
    if (!this.selected) return false;
    this.remember();
    this.groups[this.selected.group].splice(this.selected.index, 1);
    this.selected = null;
    return true;
  }

  clear() {
    this.remember();
    for (const group of GROUPS) this.groups[group] = [];
    this.selected = null;
  }

  swap() {
    this.remember();
    [this.groups.inner, this.groups.outer] = [this.groups.outer, this.groups.inner];
    this.selected = null;
  }

  accept() {
    if (!this.guess) return;
    this.remember();
    for (const group of GROUPS) this.groups[group] = this.guess[group].map((point) => this.within(point));
    this.guess = null;
  }

  choose(group, index) {
    this.selected = { group, index };
    this.active = group;
  }

  // The next point in the order of the groups, or the one before; false at either end, where the hand goes on.
  step(way) {
    const all = GROUPS.flatMap((group) => this.groups[group].map((_point, index) => ({ group, index })));
    const at = this.selected ? all.findIndex((each) => each.group === this.selected.group && each.index === this.selected.index) : -1;
    const next = at < 0 ? (way > 0 ? 0 : all.length - 1) : at + way;
    if (!all[next]) { this.selected = null; return false; }
    this.choose(all[next].group, all[next].index);
    return true;
  }

  // The point nearest to a place, within `reach`; the group in hand goes before the others.
  near([x, y], reach) {
    let best = null;
    for (const group of GROUPS) {
      const limit = group === this.active ? reach : reach * 0.6;
      this.shown[group].forEach((point, index) => {
        const distance = Math.hypot(point[0] - x, point[1] - y);
        if (distance <= limit && (!best || distance / limit < best.share)) best = { group, index, share: distance / limit };
      });
    }
    return best;
  }

  told() {
    return { ...this.shown, ...this.choices };
  }
}
