"""What is put beside the phone's app to measure it: in its page and in its Python."""

import ast
import inspect
from pathlib import Path

from tests.browser import handed

# Close exams and pair a clinic, so that the player has something to show.
HANDED = ("animal_named", "closed_exam", "fill_closed", "pair_with_invented_clinic")
CONSTANTS = ("CLINIC_SEED", "CLINIC_AGREEMENT", "CLINIC_ID", "NAMES")
BEGIN = """
def fill(vault):
    fill_closed(vault, 5)
    pair_with_invented_clinic(vault)

begin(fill)
"""
# What those functions use; in the archive there are no tests to import from.
NEEDED = """
from exam_app.domain.animal.signalment import Animal, Sex
from exam_app.domain.exam.people import Person, Role

BRAMBLE = Animal("c" * 32, "Bramble", "dog", sex=Sex.FEMALE_NEUTERED)
STARTER = Person("a" * 32, "Alex Rowan", Role.TECHNICIAN, "AR")
"""
# All times are taken inside the page, from the finger's lifting.
HEAR = """
  const Plain = Worker;
  window.sent = window.got = window.lifted = window.started = null;
  window.Worker = class extends Plain {
    constructor(...given) {
      super(...given);
      this.addEventListener('message', () => { window.got ??= performance.now(); });
    }
    postMessage(...given) {
      window.sent ??= performance.now();
      return super.postMessage(...given);
    }
  };
  const said = (id) => [...document.querySelectorAll(
    `[flt-semantics-identifier="${id}"]`)].map((root) => [root,
    ...root.querySelectorAll('*')].map((node) =>
    (node.getAttribute('aria-label') ?? '') + node.textContent).join()).join();
  const IDS = ['exam-progress', 'examiner'];
  let before = {};
  window.changed = {};
  addEventListener('pointerup', () => {
    window.sent = window.got = null;
    window.lifted = performance.now();
    window.changed = {};
    before = Object.fromEntries(IDS.map((id) => [id, said(id)]));
  }, true);
  addEventListener('DOMContentLoaded', () => {
    new MutationObserver(() => {
      if (!document.getElementById('loading')) window.started ??= performance.now();
      if (window.lifted === null) return;
      for (const id of IDS) {
        if (!(id in window.changed) && said(id) !== before[id])
          window.changed[id] = performance.now();
      }
    }).observe(document, {subtree: true, childList: true, attributes: true,
      characterData: true});
  });
"""
TAP = """[sent - lifted, got - sent, changed['exam-progress'] - got,
  changed['exam-progress'] - lifted]"""


def timed_start():
    """Give the text of a first module that tells its times and fills a new store."""
    of_ours = [
        ast.unparse(line)
        for line in ast.parse(inspect.getsource(handed)).body
        if isinstance(line, ast.ImportFrom) and not str(line.module).startswith("tests")
    ]
    timed = Path(__file__).with_name("timed_phone.py").read_text("utf-8")
    taken = [inspect.getsource(getattr(handed, name)) for name in HANDED]
    constants = [f"{name} = {getattr(handed, name)!r}" for name in CONSTANTS]
    return "\n".join([*of_ours, NEEDED, *constants, *taken, timed, BEGIN])
