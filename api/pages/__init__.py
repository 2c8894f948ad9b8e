"""Pages and pictures without a script: charts of accounts, a garden's page, its calendar, the guide.

Each is made of values, with no request and no clock: equal values give equal bytes.
"""
