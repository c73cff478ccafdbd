"""Cut files to the machine: line by line over a serial port.

Imports machine.
"""
