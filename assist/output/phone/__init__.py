"""The second screen: guidance on a telephone or tablet beside the camera, over the local network.

Off unless asked for; on this machine alone unless an address is given; no picture unless asked for.
"""
