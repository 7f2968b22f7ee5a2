// The words of the timer in the language of its page. The page hands them over by their English; without it, or for a
// sentence that it does not know, English is said.

const kept = globalThis.document?.getElementById("timer-words");
const words = kept ? JSON.parse(kept.textContent) : {};

/** A sentence with its gaps {name} filled. */
export const say = (english, gaps = {}) => (words[english] ?? english).replace(/\{(\w+)\}/g, (gap, name) => gaps[name] ?? gap);
