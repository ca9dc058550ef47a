"""The exported interface as text, read from the generated Python sources: one line for each call,
field, value and error. Kotlin and Swift are generated from the same, so it stands for all three."""

import ast
import pathlib


def _arguments(function, first=1):
    arguments = function.args
    spread = arguments.args[first:] + arguments.kwonlyargs
    defaults = [None] * (len(arguments.args) - len(arguments.defaults)) + arguments.defaults
    optional = defaults[first:] + arguments.kw_defaults
    return ", ".join(
        f"{a.arg}: {_plain(a.annotation)}" + ("?" if default is not None else "")
        for a, default in zip(spread, optional)
    )


def _plain(annotation):
    if annotation is None:
        return "None"
    text = ast.unparse(annotation)
    for noise in ("scupper_core.", "typing.", "datetime."):
        text = text.replace(noise, "")
    return text.replace("Union[object, ", "").replace("]]", "]") if "Union[object" in text else text


def _class(node):
    bases = [ast.unparse(base) for base in node.bases]
    if any(base.startswith("enum.") for base in bases):
        for item in node.body:
            if isinstance(item, ast.Assign):
                yield f"{node.name} = {item.targets[0].id}"
        return
    for item in node.body:
        if isinstance(item, ast.ClassDef) and item.decorator_list:
            (made,) = [call for call in item.body if getattr(call, "name", "") == "__init__"]
            yield f"{node.name} = {item.name}({_arguments(made)})"
        elif isinstance(item, ast.ClassDef):
            yield f"{node.name} ! {item.name}"
        if isinstance(item, (ast.FunctionDef, ast.AsyncFunctionDef)):
            made = item.name == "__init__" and not item.args.kwarg
            if made or not item.name.startswith(("_", "is_")):
                name = "(new)" if made else item.name
                yield f"{node.name}.{name}({_arguments(item)}) -> {_plain(item.returns)}"


def _crossing(node, ours):
    """A plain type of ours that goes over the wire as one of the system's."""
    name = node.name.removeprefix("_UniffiFfiConverterType")
    used = {item.id for item in ast.walk(node) if isinstance(item, ast.Name)}
    over = [use.removeprefix("_UniffiFfiConverter") for use in used if use.startswith("_UniffiFfiConverter")]
    if name != node.name and name in ours and not name.endswith("Error"):
        yield f"{name} as {over[0]}"


def lines(folder):
    """Every line of the interface of the sources in a folder, sorted."""
    found = set()
    for name in ("scupper.py", "scupper_core.py"):
        body = ast.parse((pathlib.Path(folder) / name).read_text()).body
        ours = {
            node.targets[0].id
            for node in body
            if isinstance(node, ast.Assign) and isinstance(node.targets[0], ast.Name)
        }
        for node in body:
            if isinstance(node, ast.ClassDef):
                found.update(_crossing(node, ours))
            if isinstance(node, ast.FunctionDef) and not node.name.startswith(("_", "uniffi")):
                found.add(f"{node.name}({_arguments(node, first=0)}) -> {_plain(node.returns)}")
            public = isinstance(node, ast.ClassDef) and not node.name.startswith("_Uniffi")
            if public and not node.name.endswith(("Protocol", "Impl", "InternalError")):
                found.update(_class(node))
            if isinstance(node, ast.ClassDef) and node.name.startswith("_UniffiTemp"):
                found.update(line.removeprefix("_UniffiTemp") for line in _class(node))
    return sorted(found)
