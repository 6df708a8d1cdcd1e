"""The editor service: a drawing as it is typed, over the Language Server Protocol.

Everything but :mod:`coldcheck.serve.server` and :mod:`coldcheck.serve.wire` is free of the
protocol's library and is tested without a server.
"""
