// The only module that speaks to the server; without one (an exported file) every answer stands in the page.

/** A refusal of the server, with its fault: message, line, column, found, allowed, hint. */
export class Refusal extends Error {
  constructor(status, fault) {
    super(fault.message ?? "the server refused");
    this.status = status;
    this.fault = fault;
  }
}

const embedded = () => document.getElementById("embedded");

class Server {
  constructor() {
    this.token = document.querySelector('meta[name="token"]')?.content ?? "";
    this.last = Promise.resolve();
  }

  async read(path) {
    return taken(await fetch(path));
  }

  /** Writes stand in a queue: each finds the song as the one before left it. */
  write(path, body) {
    const next = this.last.then(async () => {
      const headers = { "Content-Type": "application/json", "X-Token": this.token };
      return taken(await fetch(path, { method: "POST", headers, body: JSON.stringify(body ?? {}) }));
    });
    this.last = next.catch(() => {});
    return next;
  }

  state = () => this.read("api/state");
  news = (revision) => this.read(`api/state?revision=${revision}`);
  findings = () => this.read("api/findings");
  tables = () => this.read("api/tables");
  change = (change) => this.write("api/change", change);
  text = (text) => this.write("api/text", { text });
  undo = () => this.write("api/undo");
  redo = () => this.write("api/redo");
  save = (force) => this.write("api/save", { force });
  reload = () => this.write("api/reload");
  options = (section, amount) => this.read(`api/options?section=${section}&amount=${amount}&count=5`);
  take = (section, changes) => this.write("api/take", { section, changes });
  plan = () => this.read("api/plan");
  takePlan = (sections) => this.write("api/take-plan", { sections });
  hear = (body) => this.write("api/hear", body);
}

async function taken(answer) {
  let body;
  try {
    body = await answer.json();
  } catch {
    throw new Refusal(answer.status, { message: `the server answered ${answer.status} without words` });
  }
  if (!answer.ok || body.error) throw new Refusal(answer.status, body.error ?? { message: `status ${answer.status}` });
  return body;
}

/** The server, or null in an exported file. */
export const server = () => (embedded() ? null : new Server());

/** State and tables: as they stand in the page (an exported file, or the server put them in), else asked for. */
export async function opening(api) {
  const written = embedded() ?? document.getElementById("opening");
  if (written) return JSON.parse(written.textContent);
  const [state, tables] = await Promise.all([api.state(), api.tables()]);
  return { state, tables };
}
