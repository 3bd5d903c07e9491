"""How many codes a second a phone paints, read from the pictures of the browser."""

import itertools

from tests.benchmarks import slowed_phone as slowed
from tests.benchmarks.painted_codes import codes_of, watch


def play(group, driver):
    """Watch the player plain, then slowed in each way that there is.

    Args:
        group: The process group of the browser.
        driver: A page on which the player runs.
    """
    page = driver.page
    session = page.context.new_cdp_session(page)
    tell_loops("plain", page)
    tell_codes("plain", driver)
    slowed.slow_page(session, slowed.RATE)
    tell_loops("page slowed 4 times", page)
    tell_codes("page slowed 4 times", driver)
    answers = slowed.slow_workers(session, page, slowed.RATE)
    print(f"  asked to slow the worker too, it answered: {answers}")
    if "done" in answers:
        tell_loops("page and worker slowed 4 times", page)
        tell_codes("page and worker slowed 4 times", driver)
    slowed.slow_page(session, 1)
    processes = slowed.renderers(group)
    with slowed.stopped_most_of_the_time(processes):
        tell_loops("renderer stopped 3 of 4 parts", page)
        tell_codes("renderer stopped 3 of 4 parts", driver)


def tell_loops(name, page):
    in_page, in_worker = slowed.loop_times(page)
    print(f"  {name}: a loop takes {in_page:.0f} ms in the page, ", end="")
    print(f"{in_worker:.0f} ms in the worker")


def tell_codes(name, driver):
    painted = watch(driver)
    codes, unreadable = codes_of(painted)
    gaps = [later[0] - sooner[0] for sooner, later in itertools.pairwise(codes)]
    seconds = codes[-1][0] - codes[0][0]
    print(
        f"  {name}: {len(gaps) / seconds:.2f} codes a second (8 are wanted), "
        f"longest wait {max(gaps) * 1000:.0f} ms, {len(painted)} frames painted, "
        f"{unreadable} unreadable",
        flush=True,
    )
    assert unreadable == 0
