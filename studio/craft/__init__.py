"""The arithmetic and physics of the trade: plain functions over plain values, no database, no clock."""
