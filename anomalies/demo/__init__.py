"""The demonstration: Corvane Depot, a crewed propellant depot that doesn't exist, and two years of its records.

People, hardware and events are invented. Everything is made through the services, so that the ledger is real; each
story is set in its own past by `anomalies.clock.pretending`.
"""
