"""The protocol with an answer to every question, also to one that cannot be understood."""

from __future__ import annotations

import json
from typing import Any

from lsprotocol import types
from pygls.exceptions import JsonRpcException
from pygls.protocol import LanguageServerProtocol
from pygls.protocol.json_rpc import JsonRPCNotification

_PASSED_OVER = "$/coldcheck/refused"
"""No notification of this name is known, so that nothing follows from it."""


class Answering(LanguageServerProtocol):
    """What the library only logs is answered with an error."""

    def structure_message(self, data: dict[str, Any]) -> Any:
        """The message of the protocol in an object of JSON; a question that is none is refused."""
        try:
            return super().structure_message(data)
        except JsonRpcException as error:
            if "id" not in data or "method" not in data:
                raise
            self._send_response(_identity(data), error=error.to_response_error())
            return JsonRPCNotification(_PASSED_OVER, self.VERSION, None)

    def handle_message(self, message: Any) -> None:
        """Hand a message on; a question after the end is refused."""
        if self._shutdown and hasattr(message, "id") and hasattr(message, "method"):
            code = types.ErrorCodes.InvalidRequest
            error = types.ResponseError(code.value, "the service was asked to end")
            self._send_response(message.id, error=error)
        else:
            super().handle_message(message)


def refusal(code: int, reason: str) -> bytes:
    """The answer to what is no message, so that nobody knows which question it was."""
    error = {"code": code, "message": reason}
    body = json.dumps({"jsonrpc": "2.0", "id": None, "error": error}).encode()
    return b"Content-Length: %d\r\n\r\n%b" % (len(body), body)


def _identity(data: dict[str, Any]) -> Any:
    known = data["id"]
    return known if isinstance(known, int | str) else None
