"""Who may ask, and what a browser may do with an answer. The page is for this machine's own browser alone."""
from __future__ import annotations

import secrets
from urllib.parse import urlsplit

from flask import Flask, Response, abort, request

POLICY = "default-src 'none'; style-src 'self'; form-action 'self'; frame-ancestors 'none'; base-uri 'none'"
"""Nothing runs, nothing is framed, nothing comes from elsewhere."""
HEADERS = {
    "Content-Security-Policy": POLICY, "X-Content-Type-Options": "nosniff", "X-Frame-Options": "DENY",
    "Referrer-Policy": "same-origin",  # "no-referrer" would make a browser hide a form's origin from us as well
    "Cross-Origin-Resource-Policy": "same-origin", "Cross-Origin-Opener-Policy": "same-origin",
    "Cache-Control": "no-store"}
MOST_BYTES = 64 * 1024
"""Of a form; a reply has 2,000 characters at most."""


def guard(app: Flask, port: int) -> None:
    """Refuse what does not come from a page of this very start; `app.config["TOKEN"]` is what each form carries."""
    hosts = {f"{name}:{port}" for name in ("127.0.0.1", "localhost", "[::1]")}
    app.config.update(TOKEN=secrets.token_urlsafe(32), MAX_CONTENT_LENGTH=MOST_BYTES, MAX_FORM_MEMORY_SIZE=MOST_BYTES,
                      MAX_FORM_PARTS=50)

    @app.before_request
    def check() -> None:
        host = request.environ.get("HTTP_HOST", "").lower()
        if host not in hosts:  # a name of somebody else's that was made to point here
            abort(421, f"This page answers to {' and '.join(sorted(hosts))}, and to no other name.")
        if request.method not in ("GET", "HEAD", "OPTIONS"):
            _check_form(host, app.config["TOKEN"])

    @app.after_request
    def close(response: Response) -> Response:
        for name, value in HEADERS.items():
            response.headers.setdefault(name, value)
        return response


def _check_form(host: str, token: str) -> None:
    """A form counts only from a page of this start: by its origin, and by its token."""
    site, origin = request.headers.get("Sec-Fetch-Site"), request.headers.get("Origin")
    own = origin is not None and urlsplit(origin).scheme == "http" and urlsplit(origin).netloc.lower() == host
    if not (own or (origin is None and site == "same-origin")) or site not in (None, "same-origin"):
        abort(403, "A form must come from this page itself, and this one did not. Nothing was written.")
    if not secrets.compare_digest(request.form.get("token", "").encode("utf-8"), token.encode("ascii")):
        abort(403, "This form is from before the page was started anew. Go back, load the page again, and send it "
                   "once more. Nothing was written.")
