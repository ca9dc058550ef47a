// The browser's own recogniser, where there is one. It gives words; what they mean is not its
// business, nor this page's.

const Recogniser = globalThis.SpeechRecognition ?? globalThis.webkitSpeechRecognition;
const LANGUAGE = /^en\b/.test(navigator.language) ? navigator.language : "en-US";

export const present = Boolean(Recogniser);

// Whether it says that it works on the phone itself, without signal.
export async function onPhone() {
  try {
    const asked = { langs: [LANGUAGE], processLocally: true };
    return (await Recogniser?.available?.(asked)) === "available";
  } catch {
    return false;
  }
}

const TROUBLE = {
  "not-allowed": "The browser may not use the microphone. Allow it for this page, or use the keyboard's.",
  "service-not-allowed": "The browser does not let this page listen. Use the keyboard's microphone key.",
  "audio-capture": "No microphone answers. Type, or use the keyboard's.",
  "network": "The browser's recogniser needs signal, and there is none. Use the keyboard's microphone key.",
  "language-not-supported": "The browser's recogniser does not know English. Use the keyboard's.",
  "no-speech": "Nothing was heard. Try again, closer.",
};

// Listens until the returned function is called. `piece` gets each finished piece of a transcript,
// `guess` the words on their way, `over` a text if it ended by itself. Times count from `since`.
export function listen({ local, since, piece, guess, over }) {
  const ear = new Recogniser();
  Object.assign(ear, { lang: LANGUAGE, continuous: true, interimResults: true, maxAlternatives: 3 });
  if (local && "processLocally" in ear) ear.processLocally = true;
  const now = () => Math.max(0, Date.now() - since);
  let from = now();
  let text = "";
  ear.onresult = (event) => {
    for (let i = event.resultIndex; i < event.results.length; i++) {
      const [best, ...others] = event.results[i];
      if (!event.results[i].isFinal) {
        guess(best.transcript);
        continue;
      }
      const end = Math.max(now(), from + 1);
      const heard = { start_ms: from, end_ms: end, text: best.transcript.trim() };
      if (best.confidence > 0) heard.confidence = Math.min(best.confidence, 1);
      if (others.length > 0) heard.alternatives = others.map((it) => it.transcript.trim());
      from = end;
      guess("");
      if (heard.text) piece(heard);
    }
  };
  ear.onerror = (event) => { text = TROUBLE[event.error] ?? `The recogniser stopped (${event.error}).`; };
  ear.onend = () => over(text);
  ear.start();
  return () => ear.stop();
}

// A note cut into pieces: those that were heard as they were heard, whatever was typed between
// them or changed afterwards by itself.
export function pieces(text, heard) {
  const all = [];
  let at = 0;
  const typed = (upTo) => {
    const words = text.slice(at, upTo).trim();
    if (words) all.push({ start_ms: 0, end_ms: 0, text: words });
  };
  for (const piece of heard) {
    const found = text.indexOf(piece.text, at);
    if (found < 0) continue;
    typed(found);
    all.push(piece);
    at = found + piece.text.length;
  }
  typed(text.length);
  return all;
}
