"""The vault's public names: how to create and open one, and what an open one is."""

from exam_app.store.creation import create_vault
from exam_app.store.folders import vault_exists, was_begun
from exam_app.store.opened_vault import Vault
from exam_app.store.opening import (
    open_vault,
    open_vault_to_read,
    open_vault_with_recovery_code,
)

__all__ = [
    "Vault",
    "create_vault",
    "open_vault",
    "open_vault_to_read",
    "open_vault_with_recovery_code",
    "vault_exists",
    "was_begun",
]
