// What was keyed in and is not yet in the book: kept in this browser, sent one at a time, in order, until the book
// says that it is on disk. Sending twice is harmless: each entry carries an id that was made here.
"use strict";

const makeId = () => {
  if (crypto.randomUUID) return crypto.randomUUID();
  // Plain http has no randomUUID; the random numbers themselves are as good there.
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  bytes[6] = (bytes[6] & 0x0f) | 0x40;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  const hex = [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  return `${hex.slice(0, 8)}-${hex.slice(8, 12)}-${hex.slice(12, 16)}-${hex.slice(16, 20)}-${hex.slice(20)}`;
};

const cookie = (name) =>
  document.cookie.split("; ").find((part) => part.startsWith(name + "="))?.split("=")[1] ?? "";

class EntryQueue {
  // `tell` hears of everything: {kept, refused, loginNeeded, changed}.
  constructor(person, tell) {
    this.prefix = `standbook:${person}:`;
    this.tell = tell;
    this.entries = []; // in the order of keying; those refused stay until they are answered
    this.sending = false;
    this.failures = 0;
    this.counter = 0;
    this.canKeep = true;
    this.timer = null;
  }

  async load() {
    try {
      const stored = await idbKeyval.entries();
      const known = new Set(this.entries.map((entry) => entry.id));
      const mine = stored.filter(([key]) => String(key).startsWith(this.prefix)).map(([, entry]) => entry);
      this.entries = [...mine.filter((entry) => !known.has(entry.id)), ...this.entries];
      this.entries.sort((a, b) => a.order - b.order);
    } catch {
      this.canKeep = false;
    }
    this.loaded = true;
    this.tell.changed();
    this.pump();
  }

  get waiting() { return this.entries.filter((entry) => !entry.refusal); }
  get refused() { return this.entries.filter((entry) => entry.refusal); }
  get oldest() { return this.entries.length ? Math.min(...this.entries.map((entry) => entry.order)) : null; }
  find(id) { return this.entries.find((entry) => entry.id === id); }

  async add(entry) {
    // Two entries in one millisecond still keep their order.
    entry.order = Date.now() + (this.counter++ % 1000) / 1000;
    this.entries.push(entry);
    this.tell.changed();
    await this.keep(entry);
    this.pump();
  }

  // Keep an entry that is not to be sent before it is answered.
  hold(entry) {
    entry.order = Date.now() + (this.counter++ % 1000) / 1000;
    this.entries.push(entry);
    this.tell.changed();
    return this.keep(entry);
  }

  async keep(entry) {
    if (!this.canKeep) return;
    try { await idbKeyval.set(this.prefix + entry.id, entry); } catch { this.canKeep = false; this.tell.changed(); }
  }

  async drop(id) {
    this.entries = this.entries.filter((entry) => entry.id !== id);
    this.tell.changed();
    if (this.canKeep) await idbKeyval.del(this.prefix + id).catch(() => {});
  }

  later() {
    clearTimeout(this.timer);
    this.timer = setTimeout(() => this.pump(), Math.min(15000, 500 * 2 ** this.failures++));
  }

  async pump() {
    if (this.sending || this.loginNeeded) return;
    const entry = this.waiting[0];
    if (!entry) return;
    this.sending = true;
    clearTimeout(this.timer);
    try { await this.send(entry); } finally { this.sending = false; }
  }

  async send(entry) {
    let response;
    try {
      response = await fetch(entry.url, {
        method: "POST",
        redirect: "manual",
        headers: { "X-CSRFToken": cookie("csrftoken"), "HX-Request": "true" },
        body: new URLSearchParams({ ...entry.data, ...this.tell.extras() }),
      });
    } catch {
      this.tell.changed();
      return this.later();
    }
    // A person who may not write here is refused in words; without words it is the log-in that has ended.
    const refused = response.status === 403 ? await response.json().catch(() => null) : null;
    if (response.type === "opaqueredirect" || response.status === 401 || (response.status === 403 && !refused?.sentence)) {
      this.loginNeeded = true;
      return this.tell.loginNeeded();
    }
    if (response.status === 422 || refused) {
      entry.refusal = refused ?? await response.json();
      await this.keep(entry);
      this.tell.refused(entry);
    } else if (response.ok) {
      const answer = await response.text();
      await this.drop(entry.id);
      this.tell.kept(entry, answer);
    } else if (response.status === 404) {
      entry.refusal = { sentence: "This head or stand is not in the book any more. Copy the value down.", offers: [] };
      await this.keep(entry);
      this.tell.refused(entry);
    } else {
      return this.later();
    }
    this.failures = 0;
    this.tell.changed();
    setTimeout(() => this.pump());
  }

  loggedIn() {
    this.loginNeeded = false;
    this.pump();
  }

  // A plain file of what is not in the book yet, for the day the tablet must be given away.
  export() {
    const columns = ["about", "position", "characteristic", "value", "unit", "foot_feeler", "pieces", "measured", "instrument", "pack", "reason", "by", "taken_at", "client_id", "url"];
    const cell = (value) => `"${String(value ?? "").replaceAll('"', '""')}"`;
    const lines = this.entries.map((entry) => columns.map((name) => cell(entry.data[name] ?? entry[name])).join(","));
    return [columns.join(","), ...lines].join("\r\n") + "\r\n";
  }
}
