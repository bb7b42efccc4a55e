"""The song as one HTML file that plays and shows everything with no server and asks for nothing."""

from __future__ import annotations

from grooveforge.page.assets import Assets
from grooveforge.page.session import Session
from grooveforge.page.tables import tables
from grooveforge.page.wire import compact

MOST_BYTES = 2_000_000


def exported(session: Session, assets: Assets | None = None) -> bytes:
    """The file for a session's song as it stands.

    Its script and style are named in its own policy by their hashes, and nothing else may run or be loaded.
    """
    assets = assets or Assets()
    session.findings()
    script_hash, style_hash = assets.inside.hashes
    policy = (
        f"default-src 'none'; script-src {script_hash}; style-src {style_hash}; img-src data:; "
        "media-src blob: data:; base-uri 'none'; form-action 'none'"
    )
    data = b'{"state":' + session.state() + b',"tables":' + compact(tables()) + b"}"
    return assets.exported(policy, data, session.title)
