import type { IncomingMessage, ServerResponse } from "node:http";
import { z } from "zod";
import { createLoginLimit } from "./login-limit.js";
import type { SessionPicture } from "./page-contract.js";
import { tellJson, tellText } from "./response.js";
import type { Sessions } from "./sessions.js";

const loginRequest = z.strictObject({ token: z.string().max(1000) });

/** `POST /api/login` with the token; the cookie that it answers with is no script's to read. */
export function createLogin(
  sessions: Sessions,
  monotonic_ms: () => number,
): {
  picture(session: string | undefined): SessionPicture;
  tell(content: unknown, request: IncomingMessage, response: ServerResponse): Promise<void>;
} {
  const limit = createLoginLimit();
  return {
    picture: (session) => ({
      needsToken: sessions.needsToken,
      isLoggedIn: session !== undefined,
      word: session === undefined ? undefined : sessions.wordOf(session),
    }),
    async tell(content, request, response) {
      const address = request.socket.remoteAddress ?? "";
      const wait_ms = limit.wait_ms(address, monotonic_ms());
      if (wait_ms > 0) {
        response.setHeader("Retry-After", String(Math.ceil(wait_ms / 1000)));
        tellText(response, 429, `too many tries; wait ${Math.ceil(wait_ms / 1000)} s`);
        return;
      }
      const read = loginRequest.safeParse(content);
      const cookie = read.success ? sessions.logIn(read.data.token) : undefined;
      if (cookie === undefined) {
        limit.failed(address, monotonic_ms());
        tellText(response, 401, "that is not the token");
        return;
      }
      limit.succeeded(address);
      response.setHeader("Set-Cookie", cookie);
      await tellJson(request, response, 200, { accepted: true });
    },
  };
}
