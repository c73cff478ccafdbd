"""What all tests share."""

import gc
import signal
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import settings

# How long an example takes, with whatever else the machine does, says nothing of what it shows.
settings.register_profile("without a deadline", deadline=None)
settings.load_profile("without a deadline")

gc.disable()  # while tests are gathered: what is loaded stays


def pytest_ignore_collect(collection_path: Path) -> bool | None:
    """Look for no examples in what tests share: a solid modeller would be loaded only to find none."""
    shared = collection_path.suffix == ".py" and not collection_path.name.startswith("test_")
    return shared or None


def pytest_collection_finish() -> None:
    """Look for garbage no more in modules and tests, which live to the end: a twelfth of the time."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(50_000, 20, 20)  # as the command line has it
    gc.enable()


@pytest.fixture(scope="session", autouse=True)
def own_cache(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """Keep drawings of sketches in a folder of the tests' own, not in the home of whoever runs them.

    And let the many processes that tests start keep the bytecode of what they load.
    """
    folder = tmp_path_factory.mktemp("cache")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("XDG_CACHE_HOME", str(folder))
        patch.delenv("PYTHONDONTWRITEBYTECODE", raising=False)
        yield folder


@pytest.fixture
def hears_ctrl_c() -> Iterator[None]:
    """Let Ctrl-C raise KeyboardInterrupt, also where the tests were begun in the background."""
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    yield
    signal.signal(signal.SIGINT, before)
