// The sums of the weigh-in round, in whole milligrams; no page, so that they can be tried by themselves.

// What the figures typed stand for. Three are the last three of a weight near the last one: the nearest that is no
// heavier, as wood that dries gives; where that would be a loss no wood can show, the nearest a little heavier.
export function meant(typed, lastMg) {
  const plain = toMg(typed);
  if (plain === null || plain === 0) return { mg: null, completed: false };
  const figures = typed.split(".")[0];
  if (figures.length !== 3 || lastMg === null || lastMg < 1_000_000) return { mg: plain, completed: false };
  const lower = lastMg - mod(lastMg - plain, 1_000_000);
  let mg = plain;
  if (lower * 2 >= lastMg) mg = lower;
  else if ((lower + 1_000_000) * 100 <= lastMg * 103) mg = lower + 1_000_000;
  return { mg, completed: mg !== plain };
}

function mod(a, b) {
  return ((a % b) + b) % b;
}

export function toMg(typed) {
  const found = /^(\d{1,7})(?:\.(\d{0,3}))?$/.exec(typed);
  if (!found) return null;
  return Number(found[1]) * 1000 + Number((found[2] ?? "").padEnd(3, "0"));
}

export function toGrams(mg) {
  const part = String(mg % 1000).padStart(3, "0").replace(/0+$/, "");
  return `${Math.floor(mg / 1000)}${part ? `.${part}` : ""}`;
}

// What the studio itself would ask: ten times off, or heavier than it was.
export function odd(mg, lastMg, heavierIsUsual) {
  if (lastMg === null) return "";
  if (mg * 5 < lastMg || mg > lastMg * 5) return "far";
  return mg * 100 > lastMg * 103 && !heavierIsUsual ? "gained" : "";
}
