// BLAKE3 (https://github.com/BLAKE3-team/BLAKE3-specs), hashing only: names a photo by its bytes.

import { hexOf } from "./ids.js";

// Words are kept as signed 32-bit numbers, which engines add and shift fastest.
const IV = Int32Array.of(
  0x6a09e667, 0xbb67ae85, 0x3c6ef372, 0xa54ff53a, 0x510e527f, 0x9b05688c, 0x1f83d9ab, 0x5be0cd19);
const PERMUTED = [2, 6, 3, 10, 7, 0, 4, 13, 1, 11, 12, 5, 9, 14, 15, 8];
const [CHUNK_START, CHUNK_END, PARENT, ROOT] = [1, 2, 4, 8];
const [BLOCK, CHUNK] = [64, 1024];

// Which words each of the seven rounds mixes.
const ROUNDS = [PERMUTED.map((_, i) => i)];
while (ROUNDS.length < 7) ROUNDS.push(PERMUTED.map((from) => ROUNDS.at(-1)[from]));
const v = new Int32Array(16);

function mix(at, bt, ct, dt, x, y) {
  let a = v[at];
  let b = v[bt];
  let c = v[ct];
  let d = v[dt];
  a = (a + b + x) | 0;
  d ^= a;
  d = (d >>> 16) | (d << 16);
  c = (c + d) | 0;
  b ^= c;
  b = (b >>> 12) | (b << 20);
  a = (a + b + y) | 0;
  d ^= a;
  d = (d >>> 8) | (d << 24);
  c = (c + d) | 0;
  b ^= c;
  b = (b >>> 7) | (b << 25);
  v[at] = a;
  v[bt] = b;
  v[ct] = c;
  v[dt] = d;
}

// The first eight words that a block comes to.
function compress({ chain, words, counter, length, flags }) {
  v.set(chain);
  v.set(IV.subarray(0, 4), 8);
  v[12] = counter;
  v[13] = Math.floor(counter / 2 ** 32);
  v[14] = length;
  v[15] = flags;
  for (const at of ROUNDS) {
    mix(0, 4, 8, 12, words[at[0]], words[at[1]]);
    mix(1, 5, 9, 13, words[at[2]], words[at[3]]);
    mix(2, 6, 10, 14, words[at[4]], words[at[5]]);
    mix(3, 7, 11, 15, words[at[6]], words[at[7]]);
    mix(0, 5, 10, 15, words[at[8]], words[at[9]]);
    mix(1, 6, 11, 12, words[at[10]], words[at[11]]);
    mix(2, 7, 8, 13, words[at[12]], words[at[13]]);
    mix(3, 4, 9, 14, words[at[14]], words[at[15]]);
  }
  const out = new Int32Array(8);
  for (let i = 0; i < 8; i++) out[i] = v[i] ^ v[i + 8];
  return out;
}

function wordsOf(bytes) {
  if (bytes.length === BLOCK && bytes.byteOffset % 4 === 0) {
    return new Int32Array(bytes.buffer, bytes.byteOffset, 16);
  }
  const words = new Int32Array(16);
  for (let i = 0; i < bytes.length; i++) words[i >> 2] |= bytes[i] << (8 * (i & 3));
  return words;
}

// The last block of a chunk, not yet compressed: it may turn out to be the root.
function chunkEnd(bytes, counter) {
  let chain = IV;
  const blocks = Math.max(1, Math.ceil(bytes.length / BLOCK));
  for (let i = 0; ; i++) {
    const block = bytes.subarray(i * BLOCK, (i + 1) * BLOCK);
    const flags = (i === 0 ? CHUNK_START : 0) | (i + 1 === blocks ? CHUNK_END : 0);
    const node = { chain, words: wordsOf(block), counter, length: block.length, flags };
    if (i + 1 === blocks) return node;
    chain = compress(node);
  }
}

function parent(left, right) {
  const words = new Int32Array(16);
  words.set(left);
  words.set(right, 8);
  return { chain: IV, words, counter: 0, length: BLOCK, flags: PARENT };
}

// The hash of bytes, in hex.
export function blake3(bytes) {
  const waiting = [];
  const chunks = Math.max(1, Math.ceil(bytes.length / CHUNK));
  let node;
  for (let i = 0; i < chunks; i++) {
    node = chunkEnd(bytes.subarray(i * CHUNK, (i + 1) * CHUNK), i);
    if (i + 1 === chunks) break;
    let chain = compress(node);
    for (let done = i + 1; done % 2 === 0; done /= 2) chain = compress(parent(waiting.pop(), chain));
    waiting.push(chain);
  }
  while (waiting.length > 0) node = parent(waiting.pop(), compress(node));
  const out = compress({ ...node, flags: node.flags | ROOT });
  return hexOf(new Uint8Array(out.buffer));
}
