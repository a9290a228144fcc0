/**
 * A process of its own that says what the site's sensors say, evenly, and answers for its relays: `node load-feed.js ADDRESS`.
 * It tells its parent how many it has said.
 */
import { connectAsync } from "mqtt";
import { loadSensors, loadSite } from "./load-site.js";

const [, , address = ""] = process.argv;
const client = await connectAsync(address, { protocolVersion: 5, clientId: "load-feed" });
client.on("message", (topic, payload) => {
  client.publish(topic.replace(/command$/, "state"), payload);
});
await client.subscribeAsync("load/+/command", { qos: 1 });

const began_ms = performance.now();
let said = 0;
setInterval(() => {
  const due = Math.floor(((performance.now() - began_ms) / 1000) * loadSite.readingsPerSecond);
  for (; said < due; said += 1) {
    const sensor = loadSensors[said % loadSensors.length];
    if (sensor !== undefined) {
      client.publish(sensor.topic, sensor.payload(Math.floor(said / loadSensors.length)), { qos: 0 });
    }
  }
  process.send?.({ said });
}, 20);
