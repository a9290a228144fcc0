import { existsSync, readFileSync } from "node:fs";

/** sqlite.org/fileformat2.html, "The Write-Ahead Log": sizes in bytes, and places within the headers. */
const header = { size_bytes: 32, pageSizeAt: 8, saltAt: 16, checksumAt: 24 };
const frameHeader = { size_bytes: 24, commitAt: 4, saltAt: 8, checksumAt: 16, summed_bytes: 8 };
const salt_bytes = 8;
const magicOf = { littleEndian: 0x377f0682, bigEndian: 0x377f0683 };

type Sum = readonly [number, number];

/** "Checksum Algorithm" of the same page. */
function summed([first, second]: Sum, bytes: Buffer, isBigEndian: boolean): Sum {
  let [s0, s1] = [first, second];
  for (let at = 0; at + 8 <= bytes.length; at += 8) {
    const x0 = isBigEndian ? bytes.readUInt32BE(at) : bytes.readUInt32LE(at);
    const x1 = isBigEndian ? bytes.readUInt32BE(at + 4) : bytes.readUInt32LE(at + 4);
    s0 = (s0 + x0 + s1) >>> 0;
    s1 = (s1 + x1 + s0) >>> 0;
  }
  return [s0, s1];
}

const isSumAt = (bytes: Buffer, at: number, [s0, s1]: Sum): boolean =>
  bytes.readUInt32BE(at) === s0 && bytes.readUInt32BE(at + 4) === s1;

/**
 * What is wrong with the log beside a database that is not open; undefined while nothing that was committed is missing.
 * SQLite itself says nothing: it takes what stands before the damage and goes on from there, from a state of earlier. Every commit
 * is synced before the next one is written, so a power cut can only tear the last; a broken one with two commits behind it is damage.
 */
export function damageOfLog(log: string): string | undefined {
  const bytes = existsSync(log) ? readFileSync(log) : Buffer.alloc(0);
  if (bytes.length < header.size_bytes) return undefined;
  const magic = bytes.readUInt32BE(0);
  const isBigEndian = magic === magicOf.bigEndian;
  let sum = summed([0, 0], bytes.subarray(0, header.checksumAt), isBigEndian);
  if (!(isBigEndian || magic === magicOf.littleEndian) || !isSumAt(bytes, header.checksumAt, sum)) {
    return "the head of the log beside the database is damaged";
  }
  const pageSize_bytes = bytes.readUInt32BE(header.pageSizeAt);
  const salt = bytes.subarray(header.saltAt, header.saltAt + salt_bytes);
  let isBroken = false;
  let commitsBehind = 0;
  const frame_bytes = frameHeader.size_bytes + pageSize_bytes;
  for (let at = header.size_bytes; at + frame_bytes <= bytes.length; at += frame_bytes) {
    const frame = bytes.subarray(at, at + frame_bytes);
    const isOfThisLog = frame.subarray(frameHeader.saltAt, frameHeader.checksumAt).equals(salt);
    if (isBroken) {
      // What an earlier turn of the log has left behind carries another salt.
      if (isOfThisLog && frame.readUInt32BE(frameHeader.commitAt) !== 0) commitsBehind += 1;
      continue;
    }
    sum = summed(sum, frame.subarray(0, frameHeader.summed_bytes), isBigEndian);
    sum = summed(sum, frame.subarray(frameHeader.size_bytes), isBigEndian);
    isBroken = !isOfThisLog || !isSumAt(frame, frameHeader.checksumAt, sum);
  }
  return commitsBehind >= 2 ? "the log beside the database is damaged in its midst" : undefined;
}
