// Names and times of entries, made on the phone.

// A UUIDv7 (RFC 9562 section 5.7): names in the order of making.
export function freshId(now = Date.now()) {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  for (let i = 0; i < 6; i++) bytes[i] = Math.floor(now / 2 ** (8 * (5 - i))) & 0xff;
  bytes[6] = (bytes[6] & 0x0f) | 0x70;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  const hex = hexOf(bytes);
  return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join("-");
}

export function hexOf(bytes) {
  return Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
}

// A moment as RFC 3339 with the phone's offset from UTC.
export function stamp(date = new Date()) {
  const two = (n) => String(Math.trunc(Math.abs(n))).padStart(2, "0");
  const off = -date.getTimezoneOffset();
  const local = new Date(date.getTime() + off * 60_000).toISOString().slice(0, -1);
  return `${local}${off < 0 ? "-" : "+"}${two(off / 60)}:${two(off % 60)}`;
}

// The time of day of a stamp, with the day when it is not today's.
export function clock(text) {
  const date = new Date(text);
  const time = date.toLocaleTimeString("en", { hour: "2-digit", minute: "2-digit", hourCycle: "h23" });
  const today = date.toDateString() === new Date().toDateString();
  return today ? time : `${date.toLocaleDateString("en", { day: "numeric", month: "short" })} ${time}`;
}
