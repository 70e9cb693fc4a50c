"""Sensor drivers, one chip a file. The bus is passed in; nothing in here makes one."""
