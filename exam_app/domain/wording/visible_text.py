"""Text of unknown origin as it may be shown or printed on a line."""


def visible(text: str) -> str:
    r"""Return a text in which everything is seen that is there.

    Control and direction characters, line separators and halves of pairs stand as
    ``\u{202e}``: they could hide an ending, turn a line round, or steer a terminal.
    What is a letter, a mark or a space of any script stays as it is.
    """
    return text if text.isprintable() else "".join(map(_visible, text))


def _visible(character: str) -> str:
    return character if character.isprintable() else f"\\u{{{ord(character):x}}}"
