"""A phone without a screen: it talks to the served app as a browser's page does.

It signs in, holds one socket open, keeps what the page shows, and answers by the keys
and labels that a person would see.
"""

from __future__ import annotations

import asyncio
import http.client
from urllib.parse import urlencode, urlsplit
from uuid import uuid4

from streamlit.proto.BackMsg_pb2 import BackMsg
from streamlit.proto.ForwardMsg_pb2 import ForwardMsg
from streamlit.proto.WidgetStates_pb2 import WidgetState
from websockets.asyncio.client import connect

PATIENCE_S = 300.0
_LARGEST = 2**27
_TEXTS = ("markdown", "alert", "progress", "heading", "text")


def signed_in(address, passphrase):
    """Give the passphrase; return the cookies of a device that is known now."""
    line = http.client.HTTPConnection(urlsplit(address).netloc, timeout=60)
    body = urlencode({"passphrase": passphrase, "where": "/"})
    kind = {"Content-Type": "application/x-www-form-urlencoded"}
    line.request("POST", "/let-in", body, kind)
    answer = line.getresponse()
    answer.read()
    cookie = (answer.getheader("Set-Cookie") or "").partition(";")[0]
    assert answer.status == http.HTTPStatus.SEE_OTHER, answer.status
    cookies = [cookie]
    line.request("GET", "/_stcore/host-config", headers={"Cookie": cookie})
    answer = line.getresponse()
    answer.read()
    line.request("GET", "/_stcore/health", headers={"Cookie": cookie})
    answer = line.getresponse()
    answer.read()
    given = answer.getheader("Set-Cookie")
    if given:
        cookies.append(given.partition(";")[0])
    line.close()
    return "; ".join(cookies)


class Phone:
    """One open page."""

    def __init__(self, address, cookies, page=""):
        self.address, self.cookies, self.page = address, cookies, page
        self.socket = None
        self.session = ""
        self.query = ""
        self.hash = ""
        self.shown = {}
        self.answers = {}
        self.told = []

    async def __aenter__(self):
        netloc = urlsplit(self.address).netloc
        self.socket = await connect(
            f"ws://{netloc}/_stcore/stream",
            origin=self.address,
            subprotocols=["streamlit"],
            additional_headers={"Cookie": self.cookies},
            max_size=_LARGEST,
            open_timeout=PATIENCE_S,
            ping_timeout=None,
            compression=None,
        )
        await self.run(first=True)
        return self

    async def __aexit__(self, *_):
        await self.socket.close()

    async def run(self, *, first=False, trigger=None):
        """Send what was answered, and take in what the page becomes."""
        message = BackMsg()
        message.rerun_script.query_string = self.query
        message.rerun_script.page_script_hash = self.hash
        if first:
            message.rerun_script.page_name = self.page
        states = message.rerun_script.widget_states.widgets
        states.extend(self.answers.values())
        if trigger is not None:
            states.append(WidgetState(id=trigger, trigger_value=True))
        await self.socket.send(message.SerializeToString())
        # What is not drawn again is gone once the run has ended.
        self.told.clear()
        await asyncio.wait_for(self._until_finished(), PATIENCE_S)

    async def _until_finished(self):
        fresh = {}
        while True:
            message = ForwardMsg.FromString(await self.socket.recv())
            kind = message.WhichOneof("type")
            if kind == "new_session":
                fresh.clear()
                self.session = message.new_session.initialize.session_id or self.session
            elif kind == "navigation":
                self.hash = message.navigation.page_script_hash
            elif kind == "page_info_changed":
                self.query = message.page_info_changed.query_string
            elif kind == "delta":
                path = tuple(message.metadata.delta_path)
                for old in [one for one in fresh if one[: len(path)] == path]:
                    del fresh[old]
                if message.delta.WhichOneof("type") == "new_element":
                    self._take(fresh, path, message.delta.new_element)
            elif kind == "script_finished" and message.script_finished in (
                ForwardMsg.FINISHED_SUCCESSFULLY,
                ForwardMsg.FINISHED_FRAGMENT_RUN_SUCCESSFULLY,
            ):
                self.shown = fresh
                alive = {getattr(one, "id", "") for one in fresh.values()}
                self.answers = {
                    key: one for key, one in self.answers.items() if key in alive
                }
                return

    def _take(self, fresh, path, element):
        kind = element.WhichOneof("type")
        one = getattr(element, kind) if kind else None
        fresh[path] = one
        if kind in _TEXTS:
            said = getattr(one, "body", "") or getattr(one, "text", "")
            self.told.append(said)
        elif kind == "exception":
            self.told.append(f"exception: {one.message}")

    def find(self, name):
        """Return what the page shows under a key or a label, None where nothing is."""
        for one in self.shown.values():
            known = getattr(one, "id", "")
            label = getattr(one, "label", "")
            if known and (known.endswith(f"-{name}") or label == name):
                return one
        return None

    def _need(self, name):
        found = self.find(name)
        if found is None:
            labels = [getattr(one, "label", "") for one in self.shown.values()]
            seen = [label for label in labels if label]
            msg = f"There is no {name!r} on the page, but {seen}; told {self.told}"
            raise LookupError(msg)
        return found

    async def press(self, name):
        """Press a button."""
        await self.run(trigger=self._need(name).id)

    async def type(self, name, text):
        """Type into a field."""
        key = self._need(name).id
        self.answers[key] = WidgetState(id=key, string_value=text)
        await self.run()

    async def choose(self, name, part):
        """Choose from a list the entry that begins so."""
        found = self._need(name)
        (option,) = (one for one in found.options if one.startswith(part))
        self.answers[found.id] = WidgetState(id=found.id, string_value=option)
        await self.run()

    async def pick(self, name, option):
        """Pick one of several, by the words on it."""
        key = self._need(name).id
        state = WidgetState(id=key)
        state.string_array_value.data.append(option)
        self.answers[key] = state
        await self.run()

    async def give(self, name, data, file_name):
        """Give one file to a field."""
        key = self._need(name).id
        message = BackMsg()
        asked = message.file_urls_request
        asked.request_id = uuid4().hex
        asked.file_names.append(file_name)
        asked.session_id = self.session
        await self.socket.send(message.SerializeToString())
        while True:
            answer = ForwardMsg.FromString(await self.socket.recv())
            if answer.WhichOneof("type") == "file_urls_response":
                break
        (urls,) = answer.file_urls_response.file_urls
        await asyncio.to_thread(self._put, urls.upload_url, data, file_name)
        state = WidgetState(id=key)
        info = state.file_uploader_state_value.uploaded_file_info.add()
        info.name, info.size, info.file_id = file_name, len(data), urls.file_id
        info.file_urls.CopyFrom(urls)
        self.answers[key] = state
        await self.run()

    def _put(self, where, data, file_name):
        edge = uuid4().hex
        head = (
            f"--{edge}\r\nContent-Disposition: form-data; "
            f'name="file"; filename="{file_name}"\r\n'
            "Content-Type: application/octet-stream\r\n\r\n"
        )
        body = head.encode() + data + f"\r\n--{edge}--\r\n".encode()
        cookies = dict(
            one.partition("=")[::2] for one in self.cookies.split("; ") if one
        )
        headers = {
            "Content-Type": f"multipart/form-data; boundary={edge}",
            "Cookie": self.cookies,
            "Origin": self.address,
            "X-Xsrftoken": cookies.get("_streamlit_xsrf", ""),
        }
        line = http.client.HTTPConnection(urlsplit(self.address).netloc, timeout=120)
        line.request("PUT", urlsplit(where).path or where, body, headers)
        answer = line.getresponse()
        said = answer.read()
        line.close()
        if answer.status not in {200, 204}:
            msg = f"The photo was not taken: {answer.status} {said[:200]!r}"
            raise RuntimeError(msg)
