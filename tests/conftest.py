"""Where every part is installed nothing may be skipped: with COMPANION_NO_SKIPS=1 (`.ci/run`) a skip is a failure."""
from __future__ import annotations

import os
import tempfile

import pytest

NO_SKIPS = "COMPANION_NO_SKIPS"


def pytest_configure(config: pytest.Config) -> None:
    """No test writes in the companion's own folder of whoever runs it: not its key, not what it remembers of folders."""
    if not os.environ.get("COMPANION_HOME"):
        kept = tempfile.TemporaryDirectory(prefix="companion-tests-")
        os.environ["COMPANION_HOME"] = kept.name
        config.add_cleanup(kept.cleanup)


def pytest_sessionfinish(session: pytest.Session) -> None:
    """A run in which a test, or a whole file of them, was skipped has failed."""
    if _forbidden(session.config) and session.exitstatus in (pytest.ExitCode.OK, pytest.ExitCode.NO_TESTS_COLLECTED):
        session.exitstatus = pytest.ExitCode.TESTS_FAILED


def pytest_terminal_summary(terminalreporter, config: pytest.Config) -> None:  # type: ignore[no-untyped-def]
    """Each skip with its reason."""
    for report in _forbidden(config):
        terminalreporter.write_line(f"SKIPPED, but {NO_SKIPS} is set: {report.nodeid}: {report.longrepr[2]}", red=True)


def _forbidden(config: pytest.Config) -> list:
    reporter = config.pluginmanager.get_plugin("terminalreporter")
    return reporter.stats.get("skipped", []) if reporter and os.environ.get(NO_SKIPS) == "1" else []
