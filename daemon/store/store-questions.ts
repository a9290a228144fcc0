import { StoreUnavailableError } from "./store-fault.js";
import type { StoreAnswers, StoreQuery } from "./store-messages.js";

interface Asked {
  readonly limit_monotonicMs: number;
  readonly resolve: (answer: unknown) => void;
  readonly reject: (error: StoreUnavailableError) => void;
}

const mostWaiting = 64;

/** Questions to the storage thread that wait for their answer, each for a limited time. */
export class StoreQuestions {
  readonly #waiting = new Map<number, Asked>();
  #nextQueryId = 1;

  ask<Kind extends StoreQuery["kind"]>(
    limit_monotonicMs: number,
    send: (queryId: number) => boolean,
  ): Promise<StoreAnswers[Kind]> {
    if (this.#waiting.size >= mostWaiting) {
      return Promise.reject(new StoreUnavailableError("too many questions wait already"));
    }
    const queryId = this.#nextQueryId++;
    if (!send(queryId)) return Promise.reject(new StoreUnavailableError("the storage thread ended"));
    return new Promise((resolve, reject) => {
      this.#waiting.set(queryId, {
        limit_monotonicMs,
        // The thread answers a question of a kind with an answer of that kind.
        resolve: (answer) => resolve(answer as StoreAnswers[Kind]),
        reject,
      });
    });
  }

  answer(queryId: number, answer: unknown): void {
    this.#waiting.get(queryId)?.resolve(answer);
    this.#waiting.delete(queryId);
  }

  refuse(queryId: number, reason: string): void {
    this.#waiting.get(queryId)?.reject(new StoreUnavailableError(reason));
    this.#waiting.delete(queryId);
  }

  refuseAll(reason: string): void {
    for (const queryId of [...this.#waiting.keys()]) this.refuse(queryId, reason);
  }

  refuseOverdue(now_monotonicMs: number): void {
    for (const [queryId, { limit_monotonicMs }] of this.#waiting) {
      if (now_monotonicMs >= limit_monotonicMs) this.refuse(queryId, "the disk is too slow");
    }
  }
}
