// What an established engine has to say of a page's accessibility: its serious and critical findings, in words.

import axe from "axe-core";

/** Serious and critical findings of the page as it is now. */
export async function serious(page) {
  // Evaluated by the driver: the page itself may not load anything.
  await page.evaluate(axe.source);
  const { violations } = await page.evaluate(() => globalThis.axe.run(document, { resultTypes: ["violations"] }));
  const found = violations.filter(({ impact }) => impact === "serious" || impact === "critical");
  return found.map(({ id, help, nodes }) => `${id}: ${help}: ${nodes.map((node) => node.target).join(", ")}`);
}
