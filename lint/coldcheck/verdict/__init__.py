"""From a drawing and its rules to one document: engine, registry, causes, waivers, ledger."""
