"""The language server that many editors ask, driven over its protocol as an editor does (LSP 3.17, base protocol)."""

from __future__ import annotations

import json
import shutil
import subprocess
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from small_library import REPOSITORY
from tools import missing

SERVER = REPOSITORY / "tests" / "node_modules" / "yaml-language-server" / "bin" / "yaml-language-server"
CURSOR = "‸"

# As editors have them by default, but for the store of schemas, which is on the network.
SETTINGS = {"yaml": {"validate": True, "hover": True, "completion": True, "schemaStore": {"enable": False}}}


class Editor:
    """An editor with this repository open; close it when done."""

    def __init__(self) -> None:
        node = shutil.which("node")
        if node is None or not SERVER.is_file():
            missing("yaml-language-server is not installed: what editors offer was not tried")
        self._process = subprocess.Popen(
            [str(node), str(SERVER), "--stdio"], stdin=subprocess.PIPE, stdout=subprocess.PIPE
        )
        self._asked = 0
        self._versions: dict[str, int] = {}
        self._faults: dict[str, list[dict[str, Any]]] = {}
        root = REPOSITORY.as_uri()
        folders = [{"uri": root, "name": "library"}]
        able = {"textDocument": {"completion": {"completionItem": {"snippetSupport": True}}, "hover": {}}}
        self._ask("initialize", processId=None, rootUri=root, workspaceFolders=folders, capabilities=able)
        self._send(method="initialized", params={})

    def offered(self, path: Path, text: str) -> list[str]:
        """The words that are offered where CURSOR stands in a file's text."""
        items = self._at("textDocument/completion", path, text)["items"]
        return [item["label"] for item in items]

    def told(self, path: Path, text: str) -> str:
        """What is said of the word at CURSOR."""
        found = self._at("textDocument/hover", path, text)
        return str(found["contents"]["value"]) if found else ""

    def faults(self, texts: Mapping[Path, str]) -> dict[str, list[str]]:
        """What is underlined in some files, each with its line, by the file's name; files without are left out."""
        uris = {
            self._show(path, text): path.name for path, text in texts.items()
        }  # all first: it waits for more typing
        while not uris.keys() <= self._faults.keys():
            self._read()
        return {
            name: [f"{fault['range']['start']['line'] + 1}: {fault['message']}" for fault in found]
            for uri, name in uris.items()
            if (found := self._faults[uri])
        }

    def close(self) -> None:
        """End the server as its protocol asks."""
        self._ask("shutdown")
        self._send(method="exit", params=None)
        self._process.communicate(timeout=10)

    def _at(self, method: str, path: Path, text: str) -> Any:
        before, cursor, after = text.partition(CURSOR)
        assert cursor
        line = before.count("\n")
        character = len(before) - before.rfind("\n") - 1
        uri = self._show(path, before + after)
        place = {"line": line, "character": character}
        return self._ask(method, textDocument={"uri": uri}, position=place)

    def _show(self, path: Path, text: str) -> str:
        uri = path.as_uri()
        version = self._versions[uri] = self._versions.get(uri, 0) + 1
        self._faults.pop(uri, None)
        if version == 1:
            document = {"uri": uri, "languageId": "yaml", "version": version, "text": text}
            self._send(method="textDocument/didOpen", params={"textDocument": document})
        else:
            changed = {"textDocument": {"uri": uri, "version": version}, "contentChanges": [{"text": text}]}
            self._send(method="textDocument/didChange", params=changed)
        return uri

    def _ask(self, method: str, **params: Any) -> Any:
        self._asked += 1
        self._send(id=self._asked, method=method, params=params or None)
        while True:
            message = self._read()
            if message.get("id") == self._asked and "method" not in message:
                assert "error" not in message, message
                return message["result"]

    def _send(self, **message: Any) -> None:
        body = json.dumps({"jsonrpc": "2.0", **message}).encode()
        assert self._process.stdin
        self._process.stdin.write(b"Content-Length: %d\r\n\r\n%b" % (len(body), body))
        self._process.stdin.flush()

    def _read(self) -> dict[str, Any]:
        assert self._process.stdout
        length = 0
        while line := self._process.stdout.readline().strip():
            name, _, value = line.partition(b":")
            if name.lower() == b"content-length":
                length = int(value)
        assert length, "the language server has ended"
        message: dict[str, Any] = json.loads(self._process.stdout.read(length))
        if "id" in message and "method" in message:
            result: Any = None
            if message["method"] == "workspace/configuration":
                result = [SETTINGS.get(item["section"]) for item in message["params"]["items"]]
            self._send(id=message["id"], result=result)
        elif message.get("method") == "textDocument/publishDiagnostics":
            self._faults[message["params"]["uri"]] = message["params"]["diagnostics"]
        return message
