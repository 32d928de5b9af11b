"""From the road to numbers: a phone's speed log becomes drag area, rolling resistance, wheel power, gear ratios, and a ride
with every pair of sprockets.

reader.read_log gives a log.Log, log.runs_of cuts the runs out of it. coast_down, pull, gears and ride answer beside a bike and
write into its build; the fits under them stand in fits/.
"""
