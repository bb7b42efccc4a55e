"""Running the page's modules outside the page: in node, and in a headless chromium driven by playwright."""

from __future__ import annotations

import json
import shutil
import subprocess
import threading
from functools import partial
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import TYPE_CHECKING, Any

from tests.missing import missing

if TYPE_CHECKING:
    from playwright.sync_api import Browser

ROOT = Path(__file__).parents[2]
JOB = "tests/sound/voices_job.js"


def in_node(job: dict[str, Any]) -> Any:
    """What the job's module gives in node; skips where there is no node."""
    node = shutil.which("node")
    if node is None:
        missing("node is not installed")
    script = (
        f'import {{ run }} from "{(ROOT / JOB).as_uri()}"; import {{ readFileSync }} from "node:fs";'
        'process.stdout.write(JSON.stringify(run(JSON.parse(readFileSync(0, "utf8")))));'
    )
    # Later versions tell a module by its text.
    old = int(subprocess.run([node, "--version"], capture_output=True, text=True).stdout[1:].split(".")[0]) < 22
    words = [node, *(["--experimental-default-type=module"] if old else []), "--input-type=module", "-e", script]
    done = subprocess.run(words, input=json.dumps(job), capture_output=True, text=True, timeout=120)
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


class _Quiet(SimpleHTTPRequestHandler):
    def log_message(self, format: str, *args: Any) -> None:
        pass


def in_chromium(job: dict[str, Any], browser: Browser) -> Any:
    """What the job's module gives in chromium, served from this machine."""
    server = ThreadingHTTPServer(("127.0.0.1", 0), partial(_Quiet, directory=str(ROOT)))
    threading.Thread(target=server.serve_forever, daemon=True).start()
    context = browser.new_context()
    try:
        page = context.new_page()
        address = f"http://127.0.0.1:{server.server_port}"
        page.goto(f"{address}/tests/sound/voices_job.js")
        given = page.evaluate(
            "async ([module, job]) => JSON.stringify((await import(module)).run(job))", [f"{address}/{JOB}", job]
        )
    finally:
        context.close()
        server.shutdown()
        server.server_close()
    return json.loads(given)
