/** Made from lapel.fieldlog.entries by `python -m lapel.field.kinds_module`; change it there. */

/** @type {Record<string, import('./types.js').KindSpec>} */
export const KINDS = {
 "train_prepared": {
  "kind": "train_prepared",
  "words": "A train is put together; flows measured before this do not count for it.",
  "rank": 0,
  "fields": {
   "train": {
    "name": "train",
    "type": "code",
    "words": "the sampling train: one pump, its holder and ports, under one code for the day",
    "needed": true,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   },
   "pump": {
    "name": "pump",
    "type": "code",
    "words": "the pump in it",
    "needed": true,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   },
   "splitter": {
    "name": "splitter",
    "type": "code",
    "words": "the holder that splits the flow; empty for a single sampler",
    "needed": false,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   },
   "warm_up_min": {
    "name": "warm_up_min",
    "type": "number",
    "words": "minutes the pump ran before the first reading",
    "needed": false,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": 0,
    "most": null
   },
   "charged_at": {
    "name": "charged_at",
    "type": "instant",
    "words": "when the battery was last fully charged",
    "needed": false,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   },
   "battery": {
    "name": "battery",
    "type": "text",
    "words": "what the pump shows of its battery while running",
    "needed": false,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   },
   "place": {
    "name": "place",
    "type": "text",
    "words": "where the train was prepared",
    "needed": false,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   }
  },
  "one_of": []
 },
 "kit_sheet": {
  "kind": "kit_sheet",
  "words": "What the kit sheet of whoever supplied the pumps says of a port; their word, no reading of ours.",
  "rank": 1,
  "fields": {
   "train": {
    "name": "train",
    "type": "code",
    "words": "the sampling train: one pump, its holder and ports, under one code for the day",
    "needed": true,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   },
   "port": {
    "name": "port",
    "type": "port",
    "words": "the port's letter",
    "needed": true,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   },
   "pump": {
    "name": "pump",
    "type": "code",
    "words": "the pump the sheet is of",
    "needed": false,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   },
   "medium": {
    "name": "medium",
    "type": "code",
    "words": "what the sampler collects on, as the survey names it",
    "needed": false,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   },
   "catalogue": {
    "name": "catalogue",
    "type": "code",
    "words": "the maker's number of that medium",
    "needed": false,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   },
   "lot": {
    "name": "lot",
    "type": "code",
    "words": "the lot printed on the sampler or its box",
    "needed": false,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   },
   "intended": {
    "name": "intended",
    "type": "number",
    "words": "flow the port is meant for",
    "needed": false,
    "choices": [],
    "unit_in": "intended_unit",
    "unit_kind": null,
    "above": 0,
    "least": null,
    "most": null
   },
   "intended_unit": {
    "name": "intended_unit",
    "type": "unit",
    "words": "unit of the flow meant",
    "needed": false,
    "choices": [],
    "unit_in": "",
    "unit_kind": "flow",
    "above": null,
    "least": null,
    "most": null
   },
   "supplier": {
    "name": "supplier",
    "type": "number",
    "words": "flow the supplier read there; never the flow before the run",
    "needed": false,
    "choices": [],
    "unit_in": "supplier_unit",
    "unit_kind": null,
    "above": 0,
    "least": null,
    "most": null
   },
   "supplier_unit": {
    "name": "supplier_unit",
    "type": "unit",
    "words": "unit of that reading",
    "needed": false,
    "choices": [],
    "unit_in": "",
    "unit_kind": "flow",
    "above": null,
    "least": null,
    "most": null
   },
   "how": {
    "name": "how",
    "type": "choice",
    "words": "how the sheet got into the record",
    "needed": false,
    "choices": [
     "scanned",
     "typed"
    ],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   }
  },
  "one_of": []
 },
 "port_prepared": {
  "kind": "port_prepared",
  "words": "A port gets its calibration tube, the one flows are set with and never sampled with.",
  "rank": 2,
  "fields": {
   "train": {
    "name": "train",
    "type": "code",
    "words": "the sampling train: one pump, its holder and ports, under one code for the day",
    "needed": true,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   },
   "port": {
    "name": "port",
    "type": "port",
    "words": "the port's letter",
    "needed": true,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   },
   "tube": {
    "name": "tube",
    "type": "code",
    "words": "mark of the calibration tube",
    "needed": true,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   },
   "medium": {
    "name": "medium",
    "type": "code",
    "words": "what the sampler collects on, as the survey names it",
    "needed": false,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   },
   "lot": {
    "name": "lot",
    "type": "code",
    "words": "the lot printed on the sampler or its box",
    "needed": false,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   },
   "target": {
    "name": "target",
    "type": "number",
    "words": "flow wanted at this port",
    "needed": false,
    "choices": [],
    "unit_in": "target_unit",
    "unit_kind": null,
    "above": 0,
    "least": null,
    "most": null
   },
   "target_unit": {
    "name": "target_unit",
    "type": "unit",
    "words": "unit of the wanted flow",
    "needed": false,
    "choices": [],
    "unit_in": "",
    "unit_kind": "flow",
    "above": null,
    "least": null,
    "most": null
   }
  },
  "one_of": []
 },
 "leak_checked": {
  "kind": "leak_checked",
  "words": "The inlets were plugged and the flow had to vanish.",
  "rank": 3,
  "fields": {
   "train": {
    "name": "train",
    "type": "code",
    "words": "the sampling train: one pump, its holder and ports, under one code for the day",
    "needed": true,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   },
   "port": {
    "name": "port",
    "type": "port",
    "words": "the port plugged; empty means all at once",
    "needed": false,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   },
   "passed": {
    "name": "passed",
    "type": "yes/no",
    "words": "whether the flow went to zero",
    "needed": true,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   }
  },
  "one_of": []
 },
 "pump_checked": {
  "kind": "pump_checked",
  "words": "Somebody looked at the running pump.",
  "rank": 4,
  "fields": {
   "train": {
    "name": "train",
    "type": "code",
    "words": "the sampling train: one pump, its holder and ports, under one code for the day",
    "needed": true,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   },
   "running": {
    "name": "running",
    "type": "yes/no",
    "words": "whether it ran",
    "needed": true,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   },
   "counter_min": {
    "name": "counter_min",
    "type": "number",
    "words": "minutes on the pump's own counter",
    "needed": false,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": 0,
    "most": null
   },
   "display": {
    "name": "display",
    "type": "number",
    "words": "flow on the pump's own display",
    "needed": false,
    "choices": [],
    "unit_in": "display_unit",
    "unit_kind": null,
    "above": null,
    "least": 0,
    "most": null
   },
   "display_unit": {
    "name": "display_unit",
    "type": "unit",
    "words": "unit of the display",
    "needed": false,
    "choices": [],
    "unit_in": "",
    "unit_kind": "flow",
    "above": null,
    "least": null,
    "most": null
   },
   "remark": {
    "name": "remark",
    "type": "text",
    "words": "anything seen: tubing, inlet, task, the worker's own words",
    "needed": false,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   }
  },
  "one_of": []
 },
 "pump_held": {
  "kind": "pump_held",
  "words": "Drawing was interrupted on purpose; ends the segment.",
  "rank": 5,
  "fields": {
   "train": {
    "name": "train",
    "type": "code",
    "words": "the sampling train: one pump, its holder and ports, under one code for the day",
    "needed": true,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   },
   "ports": {
    "name": "ports",
    "type": "ports",
    "words": "the ports it concerns, as in “A C”; empty means all ports of the train",
    "needed": false,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   },
   "why": {
    "name": "why",
    "type": "text",
    "words": "why",
    "needed": true,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   },
   "counter_min": {
    "name": "counter_min",
    "type": "number",
    "words": "minutes on the pump's own counter",
    "needed": false,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": 0,
    "most": null
   }
  },
  "one_of": []
 },
 "pump_stopped": {
  "kind": "pump_stopped",
  "words": "The pump stopped, or was found stopped; ends the segment.",
  "rank": 6,
  "fields": {
   "train": {
    "name": "train",
    "type": "code",
    "words": "the sampling train: one pump, its holder and ports, under one code for the day",
    "needed": true,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   },
   "ports": {
    "name": "ports",
    "type": "ports",
    "words": "the ports it concerns, as in “A C”; empty means all ports of the train",
    "needed": false,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   },
   "counter_min": {
    "name": "counter_min",
    "type": "number",
    "words": "minutes on the pump's own counter",
    "needed": false,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": 0,
    "most": null
   },
   "why": {
    "name": "why",
    "type": "choice",
    "words": "why",
    "needed": true,
    "choices": [
     "shift end",
     "tube change",
     "fault",
     "early",
     "other"
    ],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   },
   "stopped_itself": {
    "name": "stopped_itself",
    "type": "yes/no",
    "words": "yes: nobody was there; the stop is then worked out from the pump's counter",
    "needed": false,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   }
  },
  "one_of": []
 },
 "sampler_removed": {
  "kind": "sampler_removed",
  "words": "A sampler comes off its port; ends the segment.",
  "rank": 7,
  "fields": {
   "train": {
    "name": "train",
    "type": "code",
    "words": "the sampling train: one pump, its holder and ports, under one code for the day",
    "needed": true,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   },
   "port": {
    "name": "port",
    "type": "port",
    "words": "the port's letter",
    "needed": true,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   },
   "sampler": {
    "name": "sampler",
    "type": "code",
    "words": "the sampler's own number, on its label",
    "needed": true,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   },
   "why": {
    "name": "why",
    "type": "text",
    "words": "why",
    "needed": true,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   }
  },
  "one_of": []
 },
 "flow_read": {
  "kind": "flow_read",
  "words": "One reading of one port's flow, with the meter at the inlet.",
  "rank": 8,
  "fields": {
   "train": {
    "name": "train",
    "type": "code",
    "words": "the sampling train: one pump, its holder and ports, under one code for the day",
    "needed": true,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   },
   "port": {
    "name": "port",
    "type": "port",
    "words": "the port's letter",
    "needed": true,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   },
   "phase": {
    "name": "phase",
    "type": "choice",
    "words": "setting: while turning the valve; closing: the round before the run, no valve touched; check: during the run; post: after it",
    "needed": true,
    "choices": [
     "setting",
     "closing",
     "check",
     "post"
    ],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   },
   "meter": {
    "name": "meter",
    "type": "code",
    "words": "the flow meter",
    "needed": true,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   },
   "reading": {
    "name": "reading",
    "type": "number",
    "words": "flow as read",
    "needed": false,
    "choices": [],
    "unit_in": "unit",
    "unit_kind": null,
    "above": null,
    "least": 0,
    "most": null
   },
   "unit": {
    "name": "unit",
    "type": "unit",
    "words": "unit of the reading",
    "needed": false,
    "choices": [],
    "unit_in": "",
    "unit_kind": "flow",
    "above": null,
    "least": null,
    "most": null
   },
   "volume": {
    "name": "volume",
    "type": "number",
    "words": "volume of a timed bubble or piston stroke",
    "needed": false,
    "choices": [],
    "unit_in": "volume_unit",
    "unit_kind": null,
    "above": 0,
    "least": null,
    "most": null
   },
   "volume_unit": {
    "name": "volume_unit",
    "type": "unit",
    "words": "unit of that volume",
    "needed": false,
    "choices": [],
    "unit_in": "",
    "unit_kind": "volume",
    "above": null,
    "least": null,
    "most": null
   },
   "seconds": {
    "name": "seconds",
    "type": "number",
    "words": "time it took",
    "needed": false,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": 0,
    "least": null,
    "most": null
   },
   "basis": {
    "name": "basis",
    "type": "choice",
    "words": "flow in the air of the place, or at the meter's standard condition",
    "needed": false,
    "choices": [
     "actual",
     "standard"
    ],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   },
   "temperature": {
    "name": "temperature",
    "type": "number",
    "words": "air temperature",
    "needed": false,
    "choices": [],
    "unit_in": "temperature_unit",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   },
   "temperature_unit": {
    "name": "temperature_unit",
    "type": "unit",
    "words": "unit of the temperature",
    "needed": false,
    "choices": [],
    "unit_in": "",
    "unit_kind": "temperature",
    "above": null,
    "least": null,
    "most": null
   },
   "pressure": {
    "name": "pressure",
    "type": "number",
    "words": "air pressure at the place, not reduced to sea level",
    "needed": false,
    "choices": [],
    "unit_in": "pressure_unit",
    "unit_kind": null,
    "above": 0,
    "least": null,
    "most": null
   },
   "pressure_unit": {
    "name": "pressure_unit",
    "type": "unit",
    "words": "unit of the pressure",
    "needed": false,
    "choices": [],
    "unit_in": "",
    "unit_kind": "pressure",
    "above": null,
    "least": null,
    "most": null
   },
   "humidity_percent": {
    "name": "humidity_percent",
    "type": "number",
    "words": "relative humidity of the air",
    "needed": false,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": 0,
    "most": 100
   }
  },
  "one_of": [
   [
    "reading",
    "unit"
   ],
   [
    "volume",
    "volume_unit",
    "seconds"
   ]
  ]
 },
 "post_round": {
  "kind": "post_round",
  "words": "The round after the run is complete: its post readings are the after flow.",
  "rank": 9,
  "fields": {
   "train": {
    "name": "train",
    "type": "code",
    "words": "the sampling train: one pump, its holder and ports, under one code for the day",
    "needed": true,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   },
   "valve_touched": {
    "name": "valve_touched",
    "type": "yes/no",
    "words": "whether any valve was touched since the run",
    "needed": true,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   },
   "recharged": {
    "name": "recharged",
    "type": "yes/no",
    "words": "whether the battery was charged since the run",
    "needed": true,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   },
   "battery_changed": {
    "name": "battery_changed",
    "type": "yes/no",
    "words": "whether the battery was changed since the run",
    "needed": false,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   },
   "same_tubes": {
    "name": "same_tubes",
    "type": "yes/no",
    "words": "whether the calibration tubes were those of the closing round",
    "needed": true,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   }
  },
  "one_of": []
 },
 "valve_touched": {
  "kind": "valve_touched",
  "words": "A port's valve was moved; its closing round no longer counts, and a segment ends.",
  "rank": 10,
  "fields": {
   "train": {
    "name": "train",
    "type": "code",
    "words": "the sampling train: one pump, its holder and ports, under one code for the day",
    "needed": true,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   },
   "port": {
    "name": "port",
    "type": "port",
    "words": "the port's letter",
    "needed": true,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   },
   "why": {
    "name": "why",
    "type": "text",
    "words": "why",
    "needed": false,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   }
  },
  "one_of": []
 },
 "closing_round": {
  "kind": "closing_round",
  "words": "All ports were read in turn with no valve touched: this is the before flow.",
  "rank": 11,
  "fields": {
   "train": {
    "name": "train",
    "type": "code",
    "words": "the sampling train: one pump, its holder and ports, under one code for the day",
    "needed": true,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   },
   "ports": {
    "name": "ports",
    "type": "ports",
    "words": "the ports read, as in “A B C”",
    "needed": true,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   },
   "valve_touched": {
    "name": "valve_touched",
    "type": "yes/no",
    "words": "whether a valve was touched during the round",
    "needed": true,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   }
  },
  "one_of": []
 },
 "train_hung": {
  "kind": "train_hung",
  "words": "The train is on a worker, or at a fixed place under the worker code used for it.",
  "rank": 12,
  "fields": {
   "train": {
    "name": "train",
    "type": "code",
    "words": "the sampling train: one pump, its holder and ports, under one code for the day",
    "needed": true,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   },
   "worker": {
    "name": "worker",
    "type": "code",
    "words": "the worker, by code",
    "needed": true,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   },
   "side": {
    "name": "side",
    "type": "text",
    "words": "left or right",
    "needed": false,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   },
   "zone": {
    "name": "zone",
    "type": "text",
    "words": "where the inlets sit",
    "needed": false,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   }
  },
  "one_of": []
 },
 "sampler_fitted": {
  "kind": "sampler_fitted",
  "words": "A sampler is opened and put on a port.",
  "rank": 13,
  "fields": {
   "train": {
    "name": "train",
    "type": "code",
    "words": "the sampling train: one pump, its holder and ports, under one code for the day",
    "needed": true,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   },
   "port": {
    "name": "port",
    "type": "port",
    "words": "the port's letter",
    "needed": true,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   },
   "sampler": {
    "name": "sampler",
    "type": "code",
    "words": "the sampler's own number, on its label",
    "needed": true,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   },
   "medium": {
    "name": "medium",
    "type": "code",
    "words": "what the sampler collects on, as the survey names it",
    "needed": false,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   },
   "lot": {
    "name": "lot",
    "type": "code",
    "words": "the lot printed on the sampler or its box",
    "needed": false,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   },
   "expiry": {
    "name": "expiry",
    "type": "date",
    "words": "expiry date on the sampler or its box",
    "needed": false,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   },
   "how": {
    "name": "how",
    "type": "choice",
    "words": "how its number got into the record",
    "needed": false,
    "choices": [
     "scanned",
     "keypad",
     "typed"
    ],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   }
  },
  "one_of": []
 },
 "pump_started": {
  "kind": "pump_started",
  "words": "The pump draws.",
  "rank": 14,
  "fields": {
   "train": {
    "name": "train",
    "type": "code",
    "words": "the sampling train: one pump, its holder and ports, under one code for the day",
    "needed": true,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   },
   "ports": {
    "name": "ports",
    "type": "ports",
    "words": "the ports it concerns, as in “A C”; empty means all ports of the train",
    "needed": false,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   },
   "counter_min": {
    "name": "counter_min",
    "type": "number",
    "words": "minutes on the pump's own counter",
    "needed": false,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": 0,
    "most": null
   }
  },
  "one_of": []
 },
 "pump_resumed": {
  "kind": "pump_resumed",
  "words": "The pump draws again after a hold.",
  "rank": 15,
  "fields": {
   "train": {
    "name": "train",
    "type": "code",
    "words": "the sampling train: one pump, its holder and ports, under one code for the day",
    "needed": true,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   },
   "ports": {
    "name": "ports",
    "type": "ports",
    "words": "the ports it concerns, as in “A C”; empty means all ports of the train",
    "needed": false,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   },
   "counter_min": {
    "name": "counter_min",
    "type": "number",
    "words": "minutes on the pump's own counter",
    "needed": false,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": 0,
    "most": null
   }
  },
  "one_of": []
 },
 "blank_opened": {
  "kind": "blank_opened",
  "words": "A blank is handled; a field blank is opened and closed at once.",
  "rank": 16,
  "fields": {
   "blank": {
    "name": "blank",
    "type": "code",
    "words": "the blank's own number",
    "needed": true,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   },
   "use": {
    "name": "use",
    "type": "choice",
    "words": "what it is a blank of; field when left empty",
    "needed": false,
    "choices": [
     "field",
     "media",
     "transport"
    ],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   },
   "medium": {
    "name": "medium",
    "type": "code",
    "words": "what the sampler collects on, as the survey names it",
    "needed": false,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   },
   "lot": {
    "name": "lot",
    "type": "code",
    "words": "the lot printed on the sampler or its box",
    "needed": false,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   },
   "place": {
    "name": "place",
    "type": "text",
    "words": "where",
    "needed": false,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   }
  },
  "one_of": []
 },
 "blank_closed": {
  "kind": "blank_closed",
  "words": "The blank is closed.",
  "rank": 17,
  "fields": {
   "blank": {
    "name": "blank",
    "type": "code",
    "words": "the blank's own number",
    "needed": true,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   }
  },
  "one_of": []
 },
 "task": {
  "kind": "task",
  "words": "What a worker does from now on.",
  "rank": 18,
  "fields": {
   "worker": {
    "name": "worker",
    "type": "code",
    "words": "the worker, by code",
    "needed": true,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   },
   "task": {
    "name": "task",
    "type": "text",
    "words": "the task",
    "needed": true,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   },
   "until": {
    "name": "until",
    "type": "instant",
    "words": "when it ended; empty: until the worker's next task",
    "needed": false,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   }
  },
  "one_of": []
 },
 "conditions": {
  "kind": "conditions",
  "words": "The air at a place.",
  "rank": 19,
  "fields": {
   "place": {
    "name": "place",
    "type": "text",
    "words": "where",
    "needed": false,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   },
   "temperature": {
    "name": "temperature",
    "type": "number",
    "words": "air temperature",
    "needed": false,
    "choices": [],
    "unit_in": "temperature_unit",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   },
   "temperature_unit": {
    "name": "temperature_unit",
    "type": "unit",
    "words": "unit of the temperature",
    "needed": false,
    "choices": [],
    "unit_in": "",
    "unit_kind": "temperature",
    "above": null,
    "least": null,
    "most": null
   },
   "pressure": {
    "name": "pressure",
    "type": "number",
    "words": "air pressure at the place, not reduced to sea level",
    "needed": false,
    "choices": [],
    "unit_in": "pressure_unit",
    "unit_kind": null,
    "above": 0,
    "least": null,
    "most": null
   },
   "pressure_unit": {
    "name": "pressure_unit",
    "type": "unit",
    "words": "unit of the pressure",
    "needed": false,
    "choices": [],
    "unit_in": "",
    "unit_kind": "pressure",
    "above": null,
    "least": null,
    "most": null
   },
   "humidity_percent": {
    "name": "humidity_percent",
    "type": "number",
    "words": "relative humidity of the air",
    "needed": false,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": 0,
    "most": 100
   }
  },
  "one_of": []
 },
 "note": {
  "kind": "note",
  "words": "Anything worth keeping.",
  "rank": 20,
  "fields": {
   "about": {
    "name": "about",
    "type": "code",
    "words": "what it is about: a train, sampler, worker or place",
    "needed": false,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   },
   "text": {
    "name": "text",
    "type": "text",
    "words": "the note",
    "needed": true,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   }
  },
  "one_of": []
 },
 "photo": {
  "kind": "photo",
  "words": "A picture, kept beside the log.",
  "rank": 21,
  "fields": {
   "about": {
    "name": "about",
    "type": "code",
    "words": "what it shows",
    "needed": false,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   },
   "file": {
    "name": "file",
    "type": "text",
    "words": "name of the picture's file",
    "needed": true,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   },
   "sha256": {
    "name": "sha256",
    "type": "sha256",
    "words": "SHA-256 of the file, so that another picture shows",
    "needed": false,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   }
  },
  "one_of": []
 },
 "parcel_sealed": {
  "kind": "parcel_sealed",
  "words": "Samplers and blanks are packed and sealed.",
  "rank": 22,
  "fields": {
   "parcel": {
    "name": "parcel",
    "type": "code",
    "words": "the parcel's number",
    "needed": true,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   },
   "samplers": {
    "name": "samplers",
    "type": "codes",
    "words": "the samplers and blanks in it, as in “S-1 S-2 B-1”",
    "needed": true,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   },
   "seal": {
    "name": "seal",
    "type": "code",
    "words": "number on the seal",
    "needed": false,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   },
   "temperature": {
    "name": "temperature",
    "type": "number",
    "words": "air temperature",
    "needed": false,
    "choices": [],
    "unit_in": "temperature_unit",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   },
   "temperature_unit": {
    "name": "temperature_unit",
    "type": "unit",
    "words": "unit of the temperature",
    "needed": false,
    "choices": [],
    "unit_in": "",
    "unit_kind": "temperature",
    "above": null,
    "least": null,
    "most": null
   }
  },
  "one_of": []
 },
 "custody_handed": {
  "kind": "custody_handed",
  "words": "The parcel goes from one hand to another.",
  "rank": 23,
  "fields": {
   "parcel": {
    "name": "parcel",
    "type": "code",
    "words": "the parcel's number",
    "needed": true,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   },
   "from": {
    "name": "from",
    "type": "text",
    "words": "who gave it",
    "needed": true,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   },
   "from_firm": {
    "name": "from_firm",
    "type": "text",
    "words": "the giver's firm",
    "needed": false,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   },
   "from_signature": {
    "name": "from_signature",
    "type": "signature",
    "words": "how the giver signed; empty where nobody did",
    "needed": false,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   },
   "to": {
    "name": "to",
    "type": "text",
    "words": "who took it",
    "needed": true,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   },
   "to_firm": {
    "name": "to_firm",
    "type": "text",
    "words": "the taker's firm",
    "needed": false,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   },
   "to_signature": {
    "name": "to_signature",
    "type": "signature",
    "words": "how the taker signed; empty where nobody did",
    "needed": false,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   },
   "seal_intact": {
    "name": "seal_intact",
    "type": "yes/no",
    "words": "whether the seal was whole",
    "needed": false,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   },
   "temperature": {
    "name": "temperature",
    "type": "number",
    "words": "air temperature",
    "needed": false,
    "choices": [],
    "unit_in": "temperature_unit",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   },
   "temperature_unit": {
    "name": "temperature_unit",
    "type": "unit",
    "words": "unit of the temperature",
    "needed": false,
    "choices": [],
    "unit_in": "",
    "unit_kind": "temperature",
    "above": null,
    "least": null,
    "most": null
   }
  },
  "one_of": []
 },
 "correction": {
  "kind": "correction",
  "words": "Changes one field of an earlier entry, withdraws it, or says that two like entries are two acts.",
  "rank": 24,
  "fields": {
   "field": {
    "name": "field",
    "type": "code",
    "words": "the field to change; “at” for the instant",
    "needed": false,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   },
   "value": {
    "name": "value",
    "type": "text",
    "words": "what it should say; empty takes the field away",
    "needed": false,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   },
   "withdraw": {
    "name": "withdraw",
    "type": "yes/no",
    "words": "yes: the corrected entry does not count",
    "needed": false,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   },
   "distinct_from": {
    "name": "distinct_from",
    "type": "code",
    "words": "id of the other entry: both happened",
    "needed": false,
    "choices": [],
    "unit_in": "",
    "unit_kind": null,
    "above": null,
    "least": null,
    "most": null
   }
  },
  "one_of": [
   [
    "field"
   ],
   [
    "withdraw"
   ],
   [
    "distinct_from"
   ]
  ]
 }
};

/** @type {Record<string, string[]>} */
export const UNITS = {
 "flow": [
  "mL/min",
  "L/min",
  "cc/min",
  "ccm",
  "mlpm",
  "lpm"
 ],
 "volume": [
  "mL",
  "L",
  "m3"
 ],
 "temperature": [
  "°C",
  "C",
  "degC",
  "°F",
  "F",
  "degF",
  "K"
 ],
 "pressure": [
  "kPa",
  "hPa",
  "mbar",
  "Pa",
  "mmHg",
  "inHg",
  "atm"
 ]
};

/** Of each kind that can be recorded twice: what makes two entries alike, and within how many minutes.
 *  @type {Record<string, {fields: string[], minutes: number}>} */
export const SAME_ACT = {
 "port_prepared": {
  "fields": [
   "train",
   "port",
   "tube"
  ],
  "minutes": 10.0
 },
 "leak_checked": {
  "fields": [
   "train",
   "port",
   "passed"
  ],
  "minutes": 10.0
 },
 "flow_read": {
  "fields": [
   "train",
   "port",
   "phase",
   "meter",
   "reading",
   "unit",
   "volume",
   "volume_unit",
   "seconds"
  ],
  "minutes": 2.0
 },
 "pump_checked": {
  "fields": [
   "train",
   "running",
   "counter_min"
  ],
  "minutes": 5.0
 },
 "valve_touched": {
  "fields": [
   "train",
   "port"
  ],
  "minutes": 2.0
 },
 "train_hung": {
  "fields": [
   "train",
   "worker"
  ],
  "minutes": 10.0
 },
 "task": {
  "fields": [
   "worker",
   "task"
  ],
  "minutes": 10.0
 },
 "custody_handed": {
  "fields": [
   "parcel",
   "from",
   "to"
  ],
  "minutes": 30.0
 }
};
