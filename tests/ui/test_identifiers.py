"""An identifier stands for one control: walks and helpers find it by nothing else."""

import ast
from collections import defaultdict
from functools import cache
from pathlib import Path
from string import ascii_lowercase

APP = Path(__file__).parents[2] / "exam_app"

# Each is given in several modules, and why none of them can be mistaken.
ONE_SCREEN_AT_A_TIME = """
animal-* animal-age-unit animal-edit
clinic-acknowledge clinic-add-note clinic-fork-* clinic-fork-notice clinic-read-next
clinic-recheck clinic-review
record-signed record-together-open round-begin round-next round-tag
refusal refusal-close setup-next
"""
ONE_SHEET_AT_A_TIME = "clinic-note-save review-status"
SAME_DEED = "typed-drop urgent-answer"
SHARED = {*f"{ONE_SCREEN_AT_A_TIME} {ONE_SHEET_AT_A_TIME} {SAME_DEED}".split()}


def first_names(definition):
    """Return what a function takes, or a class is made from, in order."""
    if isinstance(definition, ast.ClassDef):
        made = [n for n in definition.body if getattr(n, "name", "") == "__init__"]
        if made:
            return first_names(made[0])
        fields = [n for n in definition.body if isinstance(n, ast.AnnAssign)]
        return [field.target.id for field in fields]
    given = (*definition.args.args, *definition.args.kwonlyargs)
    taken = [argument.arg for argument in given]
    return taken[1:] if taken[:1] == ["self"] else taken


def makers(tree):
    """Return where each maker of controls takes its identifier, by its name."""
    kinds = (ast.FunctionDef, ast.AsyncFunctionDef, ast.ClassDef)
    return {
        node.name: place
        for node in ast.walk(tree)
        if isinstance(node, kinds)
        for place, name in enumerate(first_names(node))
        if name in {"identifier", "group"}
    }


def words_given(word):
    """Return the identifier that is written here in so many words, or nothing."""
    if isinstance(word, ast.Constant):
        return word.value
    if isinstance(word, ast.Call) and getattr(word.func, "id", "") == "for_choice":
        parts = [getattr(argument, "value", "*") for argument in word.args]
        return "-".join(p if isinstance(p, str) else "*" for p in parts)
    return None


def given(tree, places):
    """Yield every identifier that this module gives in so many words."""
    for call in (n for n in ast.walk(tree) if isinstance(n, ast.Call)):
        called = getattr(call.func, "id", getattr(call.func, "attr", ""))
        named = {k.arg: k.value for k in call.keywords}
        place = places.get(called)
        if called == "for_choice":
            yield words_given(call)
        elif called == "Form" and len(call.args) > 1:
            # Its fields are named by it, unless one has an identifier of its own.
            yield f"{words_given(call.args[1])}-*"
        elif place is not None:
            args = call.args[place : place + 1]
            yield words_given(args[0] if args else named.get("identifier"))


@cache
def modules_by_identifier():
    trees = {p: ast.parse(p.read_text("utf-8")) for p in APP.rglob("*.py")}
    own = {path: makers(tree) for path, tree in trees.items()}
    public = {
        name: place
        for found in own.values()
        for name, place in found.items()
        if not name.startswith("_")
    }
    modules = defaultdict(set)
    for path, tree in trees.items():
        for identifier in given(tree, {**public, **own[path]}):
            if isinstance(identifier, str) and identifier[:1].isalpha():
                modules[identifier].add(path.relative_to(APP).as_posix())
    return modules


def test_no_identifier_is_given_in_two_modules_without_a_reason():
    found = modules_by_identifier()
    shared = {name: where for name, where in found.items() if len(where) > 1}
    assert {n: w for n, w in shared.items() if n not in SHARED} == {}
    assert set(SHARED) <= set(shared), "no longer shared: take it out"


def test_identifiers_of_buttons_fields_choices_and_texts_are_found_by_this_test():
    found = modules_by_identifier()
    samples = {"setup-next", "person-name", "finding-*", "review-status"}
    assert samples <= set(found)
    assert len(found) > 350


def test_identifiers_are_plain_and_hold_no_word_of_a_patient():
    odd = [
        i for i in modules_by_identifier() if not set(i) <= {*ascii_lowercase, *"-*"}
    ]
    assert odd == []
