import tseslint from "typescript-eslint";
import { unitRules } from "./test/conventions/eslint-unit-rules.js";

const clockAndChance = [
  { name: "Date", message: "lib/ gets the time as an argument (now_epochMs)" },
  { name: "process", message: "lib/ is pure" },
  { name: "console", message: "lib/ is pure" },
];

export default tseslint.config(
  { ignores: ["dist/", "coverage/", "node_modules/"] },
  {
    files: ["lib/**/*.ts", "daemon/**/*.ts", "test/**/*.ts"],
    extends: [tseslint.configs.strictTypeChecked],
    languageOptions: { parserOptions: { projectService: true, tsconfigRootDir: import.meta.dirname } },
    plugins: { fizzward: unitRules },
    rules: {
      "fizzward/unit-suffix": "error",
      "fizzward/no-unit-mix": "error",
      "@typescript-eslint/restrict-template-expressions": ["error", { allowNumber: true }],
      "@typescript-eslint/switch-exhaustiveness-check": "error",
      "@typescript-eslint/no-confusing-void-expression": ["error", { ignoreArrowShorthand: true }],
      "no-restricted-syntax": [
        "error",
        { selector: "ExportDefaultDeclaration", message: "named exports only" },
        { selector: "ExportAllDeclaration", message: "no barrels" },
      ],
    },
  },
  {
    files: ["lib/**/*.ts"],
    rules: {
      "no-restricted-globals": ["error", ...clockAndChance],
      "no-restricted-properties": [
        "error",
        { object: "Math", property: "random", message: "pass random in" },
      ],
    },
  },
  {
    // The one place that converts.
    files: ["lib/quantities/units.ts"],
    rules: { "fizzward/no-unit-mix": "off" },
  },
  {
    files: ["test/**/*.ts"],
    rules: {
      "@typescript-eslint/no-non-null-assertion": "off",
      "no-restricted-syntax": "off",
    },
  },
);
