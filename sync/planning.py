"""Plan how many bundles a day needs, so that each fits the codes of one hand-over."""

from sync.bundle import Contents


def plan_bundles(contents: Contents, limit_sealed_bytes: int) -> tuple[Contents, ...]:
    """Return contents in as few bundles as keep each within the limit, in order."""
    raise NotImplementedError
