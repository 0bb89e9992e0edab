"""SAE J1979: services, PIDs, monitors, trouble codes, test results. Pure tables and decoding, bytes in, values out.

No paid standard was read: facts are from open sources and regulation, named beside them; what is from memory says so.
"""
