import type { SocketConversation } from "./control-socket.js";

/** Why it may not go on, or undefined where the person has answered yes. */
export async function askForYes(conversation: SocketConversation, text: string): Promise<string | undefined> {
  conversation.reply({ kind: "question", text: `${text} (yes/no)` });
  const line = await conversation.nextLine();
  return line?.trim().toLowerCase() === "yes" ? undefined : "not answered with yes";
}
