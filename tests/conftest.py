"""What every test run says first: the versions of the engines that results rest on."""

from __future__ import annotations

import os
import signal
from collections.abc import Iterator

import ezdxf
import numpy
import pyclipper
import pydantic
import pytest
import shapely
from hypothesis import HealthCheck, settings

from cutjob.layout.search.plan_search import POSITIONS

# Seconds are never judged: a slow machine is no fault of the code. The gate judges a change by the same examples every
# time; runs by hand look for new ones.
settings.register_profile("by hand", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.register_profile("gate", settings.get_profile("by hand"), derandomize=True)
settings.load_profile("gate" if os.environ.get("CI") else "by hand")


# A run in the background may have been handed an ignored Ctrl-C, which the tests of it, and what they start, would
# ignore as well.
if signal.getsignal(signal.SIGINT) == signal.SIG_IGN:
    signal.signal(signal.SIGINT, signal.default_int_handler)


# Positions looked at in a search: a twelfth of the usual. How full boards get is for tests of layouts, samples and
# trade facts, which ask for the `whole_search`.
SHORT_SEARCH = 200_000
_WHOLE = dict(POSITIONS)
_SHORT = {"quick": SHORT_SEARCH, "normal": POSITIONS["normal"] // 12}
POSITIONS.update(_SHORT)


@pytest.fixture(scope="module")
def whole_search() -> Iterator[None]:
    """Let searches of a module take as long as a user's."""
    POSITIONS.update(_WHOLE)
    yield
    POSITIONS.update(_SHORT)


def pytest_report_header() -> str:
    return (
        f"numpy {numpy.__version__}, shapely {shapely.__version__} with GEOS {shapely.geos_version_string}, "
        f"pyclipper {pyclipper.__version__}, ezdxf {ezdxf.__version__}, pydantic {pydantic.VERSION}"
    )
