"""The live link: the only folder that knows the adapter, python-OBD and serial ports. Decides nothing about the car."""
