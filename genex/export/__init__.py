"""(being built)"""
