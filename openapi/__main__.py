"""Write openapi.json, the answers of the examples and the guide's tables, as the service gives them now.

Run it as `python -m openapi` from a checkout, then read what has changed before it is committed.
"""

import orjson

from api.routes.contract import contract_of
from openapi.conversation import CONTRACT, Clock, ask, example_files, service
from openapi.tables import GUIDE, with_tables

PRETTY = orjson.OPT_INDENT_2 | orjson.OPT_APPEND_NEWLINE


def main() -> None:
    """Write every file."""
    clock = Clock()
    with service(clock) as app:
        contract = contract_of(app)
        CONTRACT.write_bytes(orjson.dumps(contract, option=PRETTY))
        for page in sorted(GUIDE.glob("*.md")):
            page.write_text(with_tables(page.read_text(), contract))
        for path in example_files():
            example = orjson.loads(path.read_bytes())
            example["answer"] = ask(app, clock, example)
            path.write_bytes(orjson.dumps(example, option=PRETTY))
            print(f"{path.name}: {example['answer']['status']}")


if __name__ == "__main__":
    main()
