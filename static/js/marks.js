// The page of one mark: when a reading of it was saved, what follows from it is brought anew. The fields are left alone.
"use strict";

hooks.answered.push(() => document.body.dispatchEvent(new CustomEvent("mark-read")));
