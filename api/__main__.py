"""`python -m api` is the `rootledger` command."""

from api.cli.commands import main

if __name__ == "__main__":
    main(prog_name="rootledger")
