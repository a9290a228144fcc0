import { createHash, createHmac, randomBytes, timingSafeEqual } from "node:crypto";

/** Who may ask, and how a page proves that a write is its own. */
export interface Sessions {
  /** False where the page is for this machine alone and asks for no token. */
  readonly needsToken: boolean;
  /** The session of a request by its cookie; undefined where there is none. Without a token everybody has the same. */
  sessionOf(cookieHeader: string | undefined): string | undefined;
  /** A new session as a cookie; undefined where the token is wrong. */
  logIn(token: string): string | undefined;
  /** What a page of this session writes beside each write: no page from elsewhere can read it. */
  wordOf(session: string): string;
  isWordOf(session: string, word: unknown): boolean;
}

/** A session outlasts a restart of the daemon, and ends when the token is changed. */
const lasts_s = 30 * 86_400;
const cookieName = "fizzward-session";
/** The one session of a page without a token. */
const everybody = "everybody";

export function createSessions(token: string | undefined, now_epochMs: () => number): Sessions {
  const key =
    token === undefined
      ? randomBytes(32)
      : createHash("sha256").update("fizzward page\n").update(token).digest();
  const signed = (text: string): string => createHmac("sha256", key).update(text).digest("base64url");
  const wordOf = (session: string): string => signed(`word ${session}`);

  return {
    needsToken: token !== undefined,
    sessionOf(cookieHeader) {
      if (token === undefined) return everybody;
      const cookie = cookiesIn(cookieHeader).find((text) => text.startsWith(`${cookieName}=`));
      const [id = "", ends = "", signature = ""] = (cookie?.slice(cookieName.length + 1) ?? "").split(".");
      if (!isSame(signature, signed(`session ${id}.${ends}`))) return undefined;
      return Number(ends) > now_epochMs() ? id : undefined;
    },
    logIn(tried) {
      if (token === undefined || !isSame(tried, token)) return undefined;
      const id = randomBytes(18).toString("base64url");
      const ends = String(now_epochMs() + lasts_s * 1000);
      const value = `${id}.${ends}.${signed(`session ${id}.${ends}`)}`;
      return `${cookieName}=${value}; Path=/; HttpOnly; SameSite=Strict; Max-Age=${lasts_s}`;
    },
    wordOf,
    isWordOf: (session, word) => typeof word === "string" && isSame(word, wordOf(session)),
  };
}

function cookiesIn(header = ""): readonly string[] {
  return header.split(";").map((part) => part.trim());
}

/** In a time that says nothing of where they differ. */
function isSame(one: string, other: string): boolean {
  const digest = (text: string): Buffer => createHash("sha256").update(text).digest();
  return timingSafeEqual(digest(one), digest(other));
}
