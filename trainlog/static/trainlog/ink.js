// The ink of each style that a chart's marks name: the one place that says how styles look. A page's script and
// what draws files both read it, so what stands between the outer braces is plain JSON; "--name" is a custom
// property of the sheets. A width belongs here: one for all lines would override those of the styles.

export const STYLES = {
  "reference": { "color": "--reference", "strokeWidth": 1.5 },
  "tested": { "color": "--tested", "strokeWidth": 1.5 },
  "corrected": { "color": "--corrected", "strokeWidth": 1.5 },
  "corrected-band": { "color": "--band" },
  "unknown": { "color": "--unknown" },
  "boundary": { "color": "--quiet", "strokeDash": [2, 3] },
  "part-strip": { "color": "--rule", "opacity": 0.16, "stroke": "--ground", "strokeWidth": 2 },
  "chosen-part": { "color": "--accent-ground" },
  "part-name": { "color": "--ink", "fontSize": 12 },
  "halo": { "stroke": "--ground", "strokeWidth": 4, "strokeJoin": "round", "fontSize": 12 },
  "pointer": { "color": "--quiet", "strokeWidth": 1 },
  "zero": { "color": "--rule" },
  "flagged": { "color": "--unknown", "opacity": 0.14 },
  "epoch": { "color": "--tested", "filled": true, "shape": "circle", "size": 14, "opacity": 0.4 },
  "session": { "color": "--tested", "filled": true, "stroke": "--ink", "shape": "circle", "size": 75, "opacity": 1 },
  "bias": { "color": "--ink", "strokeWidth": 1.5 },
  "limit": { "color": "--ink", "strokeWidth": 1.25, "strokeDash": [6, 3] },
  "slope": { "color": "--ink", "strokeWidth": 1.25, "strokeDash": [1.5, 2.5] },
  "level-band": { "color": "--rule", "opacity": 0.28 },
  "density": { "color": "--ink" },
  "morning": { "color": "--quiet", "filled": true, "shape": "circle", "size": 28, "opacity": 0.8 },
  "weekly": { "color": "--ink", "strokeWidth": 2 },
  "usual-band": { "color": "--rule", "opacity": 0.28 },
  "day-load": { "color": "--rule", "opacity": 0.55 },
  "day-interval": { "color": "--ink", "strokeWidth": 0.75, "opacity": 0.55 },
  "quick": { "color": "--quick", "strokeWidth": 2 },
  "quick-band": { "color": "--quick", "opacity": 0.2 },
  "slow": { "color": "--slow", "strokeWidth": 2, "strokeDash": [6, 3] },
  "slow-band": { "color": "--slow", "opacity": 0.14 },
  "identity": { "color": "--ink", "strokeWidth": 1.25 },
  "identity-edge": { "color": "--ground", "strokeWidth": 4 }
};
