/** An element of a drawing. Its looks are attributes or classes: an inline style would break the page's policy. */
export function svg<Tag extends keyof SVGElementTagNameMap>(
  tag: Tag,
  attributes: Readonly<Record<string, string | number>> = {},
  ...children: readonly (SVGElement | string | undefined)[]
): SVGElementTagNameMap[Tag] {
  const made = document.createElementNS("http://www.w3.org/2000/svg", tag);
  for (const [name, value] of Object.entries(attributes)) made.setAttribute(name, String(value));
  made.append(...children.filter((child) => child !== undefined));
  return made;
}

const marks = {
  /** All is as it should be. */
  good: ["M12 2a10 10 0 1 0 0 20a10 10 0 1 0 0-20z", "M7.5 12.5l3 3l6-7"],
  /** Look at it. */
  care: ["M12 2.5L22.5 21h-21z", "M12 9.5v5M12 17.6v.3"],
  /** Act. */
  bad: ["M7.8 2h8.4L22 7.8v8.4L16.2 22H7.8L2 16.2V7.8z", "M12 6.5v7M12 17v.4"],
  unknown: [
    "M12 2a10 10 0 1 0 0 20a10 10 0 1 0 0-20z",
    "M9 9.5a3 3 0 1 1 4.3 2.7c-.9.5-1.3 1-1.3 2M12 17.2v.3",
  ],
  rising: ["M5 17L18 6M10 6h8v8"],
  falling: ["M5 7l13 11M18 10v8h-8"],
  steady: ["M3 12h17M14 6l6 6l-6 6"],
} as const;
export type MarkName = keyof typeof marks;

/** A sign that a word stands beside: shapes differ, not only colours. */
export function mark(name: MarkName): SVGSVGElement {
  return svg(
    "svg",
    { class: `mark mark-${name}`, viewBox: "0 0 24 24", "aria-hidden": "true" },
    ...marks[name].map((path) => svg("path", { d: path })),
  );
}
