import { expect, it } from "vitest";
import { escapedMarkup } from "../../../../lib/digest/escaped-markup.js";

it.each([
  {
    because: "the four predefined entities of XML 1.0, 4.6",
    text: `<a b="&">`,
    is: "&lt;a b=&quot;&amp;&quot;&gt;",
  },
  { because: "what is escaped already is text too", text: "&lt;", is: "&amp;lt;" },
  { because: "the rest stands as it is", text: "loach 24.5 °C 'ok'", is: "loach 24.5 °C 'ok'" },
])("writes text so that it is no markup: $because", ({ text, is }) => {
  expect(escapedMarkup(text)).toBe(is);
});
