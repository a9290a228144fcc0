/**
 * Two local lint rules about units (see DEVELOPERS.md, "Names carry units").
 * unit-suffix: what stands behind the last "_" of a name must be a known unit.
 * no-unit-mix: `x_bar = y_mbar`, `{ x_bar: y_mbar }`, `a_bar + b_mbar`, `a_bar < b_mbar` are refused.
 */
const units = new Set(
  (
    "bar mbar Pa kPa hPa psi degC degF K mol mmol molPerL molPerKg molPerKgAtm mmolPerL meqPerL mg g kg mgPerL mgPerH gPerL gPerMol gPerDay gPerH " +
    "molPerS molPerH kgPerM3 molPerM3 L mL mm mm2 mm3 cm cm2 cm3 cm3PerMol m m2 m3 s ms min h days epochMs monotonicMs ratio percent ppm dKH uSPerCm mV mVPerPH " +
    "J kJ kJPerKg kJPerMol JPerMolK JPerK kJPerKgK JPerMol W WPerK perH perS perDay perL perK perBar kgPerMol CPerMol bytes bytesPerDay perMin us V mA " +
    "mLPerMin mgPerMin bubblesPerS pHPerMin degCPerMin barPerMin mgPerLPerH mgHPerL mgPerLPer30Min cmPerH nm LPerMolCm MPa MPaPerK molPerKgBar barPerK gPerS kgPerL molPerBar kPerL JPerKgK molPerDay lnMPa mgPerLPerMin gPerKg molPerHBar LPerG LBarPerMolK LPerMol LPerKg LBarPerMol ln lnPerPh lnPerH barPerH gPerBar KPerH LPerH mVPerDay pHPerDay cm2PerS meqPerMg KPerMin LPerMin WPerL"
  ).split(" "),
);
const suffixOf = (name) => {
  const at = name.lastIndexOf("_");
  return at > 0 && at < name.length - 1 ? name.slice(at + 1) : undefined;
};
const nameOf = (node) => {
  if (node === null || node === undefined) return undefined;
  switch (node.type) {
    case "Identifier":
      return node.name;
    case "MemberExpression":
      return node.computed ? undefined : nameOf(node.property);
    case "CallExpression":
      return nameOf(node.callee);
    case "TSNonNullExpression":
    case "TSAsExpression":
    case "ChainExpression":
      return nameOf(node.expression);
    case "UnaryExpression":
      return nameOf(node.argument);
    default:
      return undefined;
  }
};
const unitOf = (node) => {
  const name = nameOf(node);
  const suffix = name === undefined ? undefined : suffixOf(name);
  return suffix !== undefined && units.has(suffix) ? suffix : undefined;
};

/** An instant plus or minus a span is an instant; two instants of different clocks never meet. */
const instants = new Set(["epochMs", "monotonicMs"]);
const agree = (a, b) => a === b || (a === "ms" && instants.has(b)) || (b === "ms" && instants.has(a));

const unitSuffix = {
  meta: {
    type: "problem",
    schema: [],
    messages: { unknown: 'the suffix "_{{suffix}}" of "{{name}}" is no known unit' },
  },
  create(context) {
    const check = (node) => {
      if (node?.type !== "Identifier" || /^[A-Z][A-Z0-9_]*$/.test(node.name) || node.name.startsWith("_"))
        return;
      const suffix = suffixOf(node.name);
      if (suffix !== undefined && !units.has(suffix)) {
        context.report({ node, messageId: "unknown", data: { suffix, name: node.name } });
      }
    };
    return {
      VariableDeclarator: (node) => check(node.id),
      FunctionDeclaration: (node) => {
        check(node.id);
        node.params.forEach(check);
      },
      ArrowFunctionExpression: (node) => node.params.forEach(check),
      TSPropertySignature: (node) => check(node.key),
      TSMethodSignature: (node) => check(node.key),
      PropertyDefinition: (node) => check(node.key),
      MethodDefinition: (node) => check(node.key),
    };
  },
};

const noUnitMix = {
  meta: {
    type: "problem",
    schema: [],
    messages: { mixed: '"{{left}}" meets "{{right}}" without a conversion' },
  },
  create(context) {
    const compare = (node, left, right) => {
      const a = unitOf(left);
      const b = unitOf(right);
      if (a !== undefined && b !== undefined && !agree(a, b)) {
        context.report({ node, messageId: "mixed", data: { left: nameOf(left), right: nameOf(right) } });
      }
    };
    return {
      VariableDeclarator: (node) => compare(node, node.id, node.init),
      AssignmentExpression: (node) => compare(node, node.left, node.right),
      Property: (node) => {
        if (!node.computed && node.parent.type === "ObjectExpression") compare(node, node.key, node.value);
      },
      BinaryExpression: (node) => {
        if (["+", "-", "<", "<=", ">", ">=", "===", "!=="].includes(node.operator)) {
          compare(node, node.left, node.right);
        }
      },
    };
  },
};

export const unitRules = { rules: { "unit-suffix": unitSuffix, "no-unit-mix": noUnitMix } };
