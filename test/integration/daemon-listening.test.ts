import { readdirSync, readFileSync, readlinkSync } from "node:fs";
import { createServer, type AddressInfo } from "node:net";
import { describe, expect, it } from "vitest";
import { useDaemonBench } from "../support/daemon-bench.js";
import { descendants } from "../support/daemon-process.js";

const bench = useDaemonBench();

/**
 * The addresses on which processes listen: lines in state 0A of /proc/net/tcp and tcp6, and every bound UDP socket, whose inode
 * one of them holds (proc(5), "/proc/net/tcp").
 */
function listening(pids: readonly number[]): readonly string[] {
  const inodes = new Set(pids.flatMap(socketInodes));
  return ["tcp", "tcp6", "udp", "udp6"].flatMap((protocol) =>
    readFileSync(`/proc/net/${protocol}`, "utf8")
      .trim()
      .split("\n")
      .slice(1)
      .map((line) => line.trim().split(/\s+/))
      .filter(([, , , state]) => protocol.startsWith("udp") || state === "0A")
      .filter((fields) => inodes.has(fields[9]!))
      .map((fields) => `${protocol} ${fields[1]!.split(":")[0]!}`),
  );
}

function socketInodes(pid: number): readonly string[] {
  return readdirSync(`/proc/${pid}/fd`).flatMap((name) => {
    try {
      return /^socket:\[(\d+)\]$/.exec(readlinkSync(`/proc/${pid}/fd/${name}`))?.[1] ?? [];
    } catch {
      return [];
    }
  });
}

async function freePort(): Promise<number> {
  const server = createServer();
  await new Promise<void>((resolve) => server.listen(0, "127.0.0.1", resolve));
  const { port } = server.address() as AddressInfo;
  await new Promise((resolve) => server.close(resolve));
  return port;
}

/** 127.0.0.1 and ::1 as the kernel writes them on a little-endian machine. */
const loopback = ["tcp 0100007F", "tcp6 00000000000000000000000001000000"];
const beyondLoopback = (pids: readonly number[]): readonly string[] =>
  listening(pids).filter((address) => !loopback.includes(address));

describe("the sockets of the running daemon", () => {
  it("listen nowhere beyond this machine, with hub and metrics switched on", async () => {
    const port = await freePort();
    const sections = `hub: { homie: {} }\nmetrics: { port: ${port} }`;
    const running = await bench().run({ config: { sections } });
    await running.logged("dead-man connection armed");
    const { daemon } = running.processIds();
    const pids = [daemon, ...descendants(daemon)];
    expect(pids.length).toBeGreaterThan(1);
    expect(pids.flatMap(socketInodes).length).toBeGreaterThan(2);
    expect(listening(pids), "metrics").toContain("tcp 0100007F");
    expect(beyondLoopback(pids)).toEqual([]);
  });

  it("are looked at in a way that finds a listener on every address", async () => {
    const server = createServer();
    await new Promise<void>((resolve) => server.listen(0, "0.0.0.0", resolve));
    expect(beyondLoopback([process.pid])).toEqual(["tcp 00000000"]);
    await new Promise((resolve) => server.close(resolve));
    const inside = createServer();
    await new Promise<void>((resolve) => inside.listen(0, "127.0.0.1", resolve));
    expect(listening([process.pid])).toContain("tcp 0100007F");
    expect(beyondLoopback([process.pid])).toEqual([]);
    await new Promise((resolve) => inside.close(resolve));
  });
});
