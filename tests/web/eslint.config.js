/** Lint rules of the page and its tests. The formatter decides the layout, but does not wrap comments. */

import js from "@eslint/js";
import globals from "globals";

export default [
  { ignores: ["**/node_modules/"] },
  js.configs.recommended,
  {
    linterOptions: { reportUnusedDisableDirectives: "error" },
    rules: {
      eqeqeq: "error",
      "max-len": [
        "error",
        { code: 110, ignoreUrls: true, ignoreStrings: true, ignoreTemplateLiterals: true },
      ],
      "no-unused-vars": ["error", { argsIgnorePattern: "^_", varsIgnorePattern: "^_$" }],
      "no-var": "error",
      "object-shorthand": "error",
      "prefer-const": "error",
    },
  },
  { files: ["web/**"], languageOptions: { globals: globals.browser } },
  { files: ["web/js/player/worklet.js"], languageOptions: { globals: globals.audioWorklet } },
  { files: ["tests/web/**"], languageOptions: { globals: globals.node } },
];
