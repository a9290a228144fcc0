import { createServer } from "node:net";

/** The port itself where nobody else listens at it on the loopback address, else 0: any that is free. */
export function freePort(wished: number): Promise<number> {
  return new Promise((resolve) => {
    const trial = createServer();
    trial.once("error", () => resolve(0));
    trial.listen(wished, "127.0.0.1", () => trial.close(() => resolve(wished)));
  });
}
