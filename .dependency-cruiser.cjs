/** The boundaries that DEVELOPERS.md draws: lib/ decides, daemon/ acts, nothing goes round in circles. */
module.exports = {
  forbidden: [
    { name: "no-circles", severity: "error", from: {}, to: { circular: true } },
    {
      name: "lib-knows-no-daemon",
      severity: "error",
      from: { path: "^lib/" },
      to: { path: "^(daemon|test)/" },
    },
    {
      name: "lib-knows-no-node",
      severity: "error",
      from: { path: "^lib/" },
      to: { dependencyTypes: ["core"] },
    },
    {
      name: "lib-knows-no-package",
      comment: "temporal-polyfill in lib/schedule is the one exception: civil time is not our subject",
      severity: "error",
      from: { path: "^lib/" },
      to: { path: "node_modules", pathNot: "node_modules/temporal-(polyfill|utils|spec)" },
    },
    {
      name: "only-schedule-uses-temporal",
      severity: "error",
      from: { path: "^lib/", pathNot: "^lib/schedule/" },
      to: { path: "node_modules" },
    },
    {
      name: "ports-know-no-adapter",
      severity: "error",
      from: { path: "^daemon/ports/" },
      to: { path: "^daemon/", pathNot: "^daemon/ports/" },
    },
    {
      name: "daemon-knows-no-test",
      severity: "error",
      from: { path: "^daemon/" },
      to: { path: "^test/" },
    },
    {
      name: "page-shows-and-computes-nothing",
      comment: "the browser's part takes types from the contract, and from lib/ what is pure",
      severity: "error",
      from: { path: "^daemon/page/assets/" },
      to: { path: "^daemon/", pathNot: "^daemon/page/(assets/|page-contract)" },
    },
    {
      name: "contract-is-types-alone",
      severity: "error",
      from: { path: "^daemon/page/assets/" },
      to: { path: "^daemon/page/page-contract", dependencyTypesNot: ["type-only"] },
    },
    {
      name: "page-knows-no-node",
      severity: "error",
      from: { path: "^daemon/page/assets/" },
      to: { dependencyTypes: ["core"] },
    },
    {
      name: "page-knows-one-package",
      severity: "error",
      from: { path: "^daemon/page/assets/" },
      to: { path: "node_modules", pathNot: "node_modules/uplot" },
    },
    {
      name: "daemon-runs-no-page",
      severity: "error",
      from: { path: "^daemon/", pathNot: "^daemon/page/assets/" },
      to: { path: "^daemon/page/assets/" },
    },
    { name: "resolvable", severity: "error", from: {}, to: { couldNotResolve: true } },
  ],
  options: {
    doNotFollow: { path: "node_modules" },
    tsPreCompilationDeps: true,
    enhancedResolveOptions: {
      exportsFields: ["exports"],
      conditionNames: ["import", "types", "node", "default"],
    },
  },
};
