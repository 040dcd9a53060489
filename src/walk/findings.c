/* The findings table: every kind of finding, what it means, what causes it (likely first), the one measurement that
 * would confirm each cause, and what looks alike. Text, JSON, HTML, `explain` and the manual read it here.
 *
 * General trade practice. rank.c puts the causes of a finding into the order of the very case; it names them by the
 * enumerations of causes.h, which follow the rows below. */
#include "walk/causes.h"

const gw_finding_info gw_finding_infos[GW_FINDING_COUNT] = {
    [GW_FOUND_SIGNAL_LOST] =
        {
            .code = "signal-lost",
            .meaning = "The stimulus goes in and does not come out: 35 dB or more under what it should be.",
            .sentence = "the signal is lost",
            .causes =
                {
                    [LOST_DEAD] = {"dead stage: device, its socket or its supply pin",
                                   "DC at every pin of the device, against the schematic"},
                    [LOST_OPEN] = {"broken track, bad joint or open contact in the signal path",
                                   "continuity between the two points with the power off; move the joint and watch"},
                    [LOST_COUPLING] = {"open coupling capacitor", "bridge the coupling capacitor with a good one of "
                                                                  "the same value and voltage, and watch the signal"},
                    [LOST_STUCK] = {"output stuck near a rail",
                                    "DC at both inputs of the device: a difference that does not match the output "
                                    "means the device"},
                    [LOST_RAIL] = {"a supply rail missing or far off", "DC at the stage's supply pins"},
                    [LOST_SHORT] = {"the input that this point feeds is shorted",
                                    "lift the next stage's input: a shorted one lets the signal recover"},
                    [LOST_SOURCE] = {"nothing is fed in: source off, cable, plug or input switch",
                                     "probe the source's own output, then the far end of its cable"},
                    [LOST_PROBE] = {"the probe does not touch, or its ground is off",
                                    "touch a point that is known to be live with the same probe"},
                },
            .lookalikes =
                "hum and hiss remain, so total RMS does not show it; a probe that touches nothing shows mains "
                "only; a shorted next input recovers when unloaded",
        },
    [GW_FOUND_LEVEL_LOW] =
        {
            .code = "level-low",
            .meaning = "The gain is below what the stage should have, for certain.",
            .sentence = "the level falls too far",
            .causes =
                {
                    [LOW_PART] = {"gain-setting part changed value, or a wrong value fitted",
                                  "measure the gain-setting resistors with the power off, one leg lifted"},
                    [LOW_CONTACT] =
                        {"oxidised switch, pot or connector contact",
                         "operate the contact and watch the level; repeat at a higher level: a film breaks down and "
                         "the gain rises"},
                    [LOW_FEEDBACK] = {"open leg of the feedback network: the stage has become a follower",
                                      "resistance from the inverting input to ground, power off"},
                    [LOW_BALANCED] = {"one leg of a balanced line lost",
                                      "level on each leg to ground; hum is higher than before"},
                    [LOW_COUPLING] = {"dry or open coupling capacitor",
                                      "repeat at 10 kHz: a dry capacitor comes back to full level, an open one gains "
                                      "20 dB a decade"},
                    [LOW_BYPASS] = {"open bypass capacitor of an emitter, source or cathode",
                                    "bridge the bypass capacitor with a good one; every DC stays as it was"},
                    [LOW_LOAD] = {"loaded too heavily by what it feeds, or by the instrument",
                                  "disconnect the next stage and measure again; use a x10 probe"},
                    [LOW_PROBE] = {"probe switch at x10 where the file says x1",
                                   "look at the switch on the probe; real loss stays lost at the next point"},
                },
            .lookalikes =
                "600 ohm into 600 ohm is -6.02 dB without more hum; 10 k into 600 ohm -0.51 dB is health; 10 k "
                "of instrument on a 100 k node is -20.8 dB; a source that moved between captures",
        },
    [GW_FOUND_LEVEL_HIGH] =
        {
            .code = "level-high",
            .meaning = "The gain is above what the stage should have, for certain.",
            .sentence = "the level is too high",
            .causes =
                {
                    [HIGH_PART] = {"feedback resistor drifted high or open, or a wrong value fitted",
                                   "measure the feedback resistor with the power off, one leg lifted"},
                    [HIGH_TERMINATION] = {"termination or load missing: the divider is open below",
                                          "measure the lower resistor or the load, power off"},
                    [HIGH_LEG] = {"the leg to ground is too small or shorted",
                                  "resistance from the inverting input to ground, power off"},
                    [HIGH_CONTROL] = {"control not where the chain file says",
                                      "set the control as stated and capture again"},
                    [HIGH_PROBE] = {"probe switch at x1 where the file says x10",
                                    "look at the switch on the probe; a real gain stays at the next point"},
                },
            .lookalikes = "a source that moved between captures; a control near the bottom of its travel is 1 to 2 dB "
                          "uncertain",
        },
    [GW_FOUND_DC_SHIFT] =
        {
            .code = "dc-shift",
            .meaning = "The DC at the point is not what it should be.",
            .sentence = "the DC is wrong",
            .causes =
                {
                    [SHIFT_DEVICE] = {"device with a wrong operating point: leaky junction or failed input",
                                      "DC at each pin of the device; compare with a sibling stage or a new device"},
                    [SHIFT_BIAS] = {"bias resistor changed value or open",
                                    "measure the bias resistors with the power off, one leg lifted"},
                    [SHIFT_STUCK] = {"output stuck near a rail",
                                     "DC at both inputs of the device: a difference that does not match the output "
                                     "means the device"},
                    [SHIFT_RAIL] = {"one rail missing or off", "DC of both rails at the stage's own pins"},
                    [SHIFT_OFFSET] = {"input offset or bias current times the DC gain",
                                      "short the input: what stays is the stage's own; compare with offset x noise "
                                      "gain"},
                    [SHIFT_CLIP] = {"one-sided clipping or a half-wave signal moves the mean",
                                    "take the stimulus away: this kind of DC goes with it"},
                    [SHIFT_LEAK] = {"leaky capacitor or board beside the node",
                                    "lift the capacitor's leg, or clean and dry the board, and read DC again"},
                    [SHIFT_HOLD] = {"hold capacitor, or the switch that charges it, leaks",
                                    "volts a second with nothing fed in: exchange the hold capacitor and read again"},
                },
            .lookalikes =
                "half the supply before a coupling capacitor is by design in a single-supply stage; an offset of "
                "5 mV times a gain of 100 is 0.5 V in health; a pitch that moves while the DC stands is the "
                "oscillator's",
        },
    [GW_FOUND_DC_PASSED] =
        {
            .code = "dc-passed",
            .meaning = "A stage that blocks DC lets it through.",
            .sentence = "DC comes through where it should be blocked",
            .causes =
                {
                    [PASSED_LEAKY] =
                        {"leaky coupling capacitor",
                         "lift the capacitor's far leg: DC on the open leg through a meter's 10 megohm is the leak"},
                    [PASSED_REVERSED] = {"electrolytic capacitor fitted the wrong way round",
                                         "compare the capacitor's marking with the DC on both sides"},
                    [PASSED_CURRENT] = {"grid or bias current of the next stage through its resistor",
                                        "take the next device out: its current goes with it"},
                    [PASSED_BOARD] = {"conductive dirt or flux across the capacitor",
                                      "clean and dry the board, then read DC again"},
                },
            .lookalikes = "grid or bias current: by its sign, or only with signal; the DC may exceed that before the "
                          "capacitor where the next node is fed as well; a capacitor still settling after power-on",
        },
    [GW_FOUND_CLIPPED] =
        {
            .code = "clipped",
            .meaning = "The waveform is cut flat by the circuit, at the top, the bottom or both.",
            .sentence = "the signal is clipped",
            .causes =
                {
                    [CLIP_DRIVE] = {"driven too hard: level or gain too high for its supply",
                                    "halve what is fed in: the flat tops go, and the gain is right"},
                    [CLIP_RAIL] = {"a rail low or missing", "DC of both rails at the stage's own pins, with signal"},
                    [CLIP_BIAS] = {"operating point off centre",
                                   "DC at the output without signal: it should stand half way"},
                    [CLIP_DEVICE] = {"output device of one polarity failed or weak under load",
                                     "take the load off: what recovers is the device or its driver"},
                    [CLIP_LIMIT] = {"current limit far below the rail", "take the load off and capture again"},
                },
            .lookalikes =
                "a single-ended valve stage flattens one side in health; pulses have flat tops; a recorder's own "
                "overload is flat at the converter's end and gone at the next point",
        },
    [GW_FOUND_DISTORTION_ADDED] =
        {
            .code = "distortion-added",
            .meaning = "The stage adds more distortion than it may.",
            .sentence = "distortion is added",
            .causes =
                {
                    [BENT_BIAS] = {"operating point off: even and odd harmonics",
                                   "DC at the device's pins against the schematic"},
                    [BENT_CROSSOVER] = {"crossover distortion: output bias too low",
                                        "repeat at a tenth of the level: crossover grows; measure the idle current"},
                    [BENT_DEVICE] = {"worn or failing device",
                                     "exchange the device with one of a sibling stage and see whether the fault moves"},
                    [BENT_CONTACT] = {"oxidised contact that conducts above a threshold",
                                      "operate the contact; a film shows less at a higher level"},
                    [BENT_SLEW] = {"slew limiting: too fast and loud for the device",
                                   "repeat at a tenth of the frequency: slewing goes"},
                    [BENT_RAIL] = {"a rail too low: the waveform bends before it clips",
                                   "DC of both rails at the stage's own pins, with signal"},
                    [BENT_CAPACITOR] = {"dielectric or electrolytic capacitor bending at low frequency",
                                        "repeat at ten times the frequency: this distortion goes"},
                },
            .lookalikes =
                "a saw, square or triangle has its harmonics by design; loud noise and few codes fake harmonics; "
                "a source with distortion of its own",
        },
    [GW_FOUND_NOISE_ADDED] =
        {
            .code = "noise-added",
            .meaning = "The stage adds more noise than it may; what merely rises by the gain is not its fault.",
            .sentence = "noise is added",
            .causes =
                {
                    [NOISE_DEVICE] = {"noisy device",
                                      "short the stage's input: the noise stays; cool the device with spray"},
                    [NOISE_PART] = {"noisy resistor or leaky capacitor with DC across it",
                                    "cool one part after the other; exchange the one that reacts"},
                    [NOISE_GROUND] = {"open or dirty ground or screen",
                                      "bridge the ground with a short thick lead and watch"},
                    [NOISE_RAIL] = {"noise of a rail",
                                    "capture the rail AC-coupled: the same noise in step means the rail"},
                },
            .lookalikes =
                "noise from before rises by exactly the gain; noise of about a step is the instrument's; hiss, "
                "two-level popcorn and impulses are three kinds",
        },
    [GW_FOUND_HUM_ADDED] =
        {
            .code = "hum-added",
            .meaning = "Mains frequency and its multiples are added beyond what came in.",
            .sentence = "hum is added",
            .causes =
                {
                    [HUM_LOOP] = {"ground loop: mains with a comb of harmonics, triples strong",
                                  "disconnect all other gear but the source; never lift an earth"},
                    [HUM_INDUCTION] = {"induction from a transformer or lead: nearly pure mains",
                                       "move or turn the lead or the transformer and watch"},
                    [HUM_SMOOTHING] =
                        {"smoothing capacitor dried out: twice the mains",
                         "ripple of the rail; bridge its smoothing capacitor with a good one (discharged first)"},
                    [HUM_DIODE] = {"open rectifier diode: mains frequency on the rail",
                                   "ripple of the rail: once the mains instead of twice"},
                    [HUM_SCREEN] = {"screen or ground connection open",
                                    "continuity of the screen from end to end, power off"},
                    [HUM_VALVE] = {"output valves unlike each other: twice the mains with a clean rail",
                                   "idle current of each valve; exchange them"},
                    [HUM_HEATER] = {"heater leakage to the cathode",
                                    "exchange the valve; feed its heater from DC for a try"},
                },
            .lookalikes =
                "turn the volume down: hum from before it follows, from behind it stays; a probe's own ground "
                "lead picks up hum, gone at the next point",
        },
    [GW_FOUND_TONE_ADDED] =
        {
            .code = "tone-added",
            .meaning = "A steady tone stands in the output that is neither stimulus, nor mains, nor in the input.",
            .sentence = "a tone of its own is added",
            .causes =
                {
                    [TONE_OSCILLATION] = {"oscillation of the stage",
                                          "touch the output through 100 ohm and 100 nF: an oscillation moves or stops; "
                                          "capture at a higher rate"},
                    [TONE_DECOUPLING] = {"decoupling or compensation capacitor open",
                                         "bridge the decoupling capacitor with a good one directly at the pins"},
                    [TONE_MOTORBOATING] = {"motor-boating through the supply: a slow envelope",
                                           "capture the rail: it moves in step; bridge its smoothing capacitor"},
                    [TONE_LOAD] = {"capacitive load or long cable on the output", "take the load off: the tone stops"},
                    [TONE_RESIDUE] =
                        {"residue of a clock, switching supply or tape bias",
                         "the tone's frequency: a clock's stays to the last digit; switch that section off"},
                },
            .lookalikes =
                "tape bias, clock and switching residue are design tones, and then already known; a tone above "
                "half the sample rate shows folded down; a 48 kHz file cannot tell",
        },
    [GW_FOUND_POLARITY_FLIPPED] =
        {
            .code = "polarity-flipped",
            .meaning = "The signal comes out upside down where it should not, or upright where it should be flipped.",
            .sentence = "the polarity is the wrong way round",
            .causes =
                {
                    [FLIP_WIRING] = {"two wires exchanged: balanced legs, transformer or plug",
                                     "continuity pin by pin, power off"},
                    [FLIP_PATH] = {"the signal comes through another path than thought",
                                   "mute the stage: what remains has come round it"},
                    [FLIP_CHAIN] = {"the stage is of another kind than the chain file says",
                                    "compare the schematic with the chain file"},
                },
            .lookalikes = "captures that were not taken together cannot tell; a filter's phase near its corner",
        },
    [GW_FOUND_CUTS_OUT] =
        {
            .code = "cuts-out",
            .meaning = "The signal drops out for moments.",
            .sentence = "the signal cuts out",
            .causes =
                {
                    [CUTS_CONTACT] = {"intermittent contact: connector, switch, relay or socket",
                                      "move connectors, switches and sockets gently while watching; DC that steps "
                                      "along points to the contact"},
                    [CUTS_JOINT] = {"cracked joint or track", "press and flex the board with something insulating"},
                    [CUTS_DEVICE] = {"device that fails with warmth", "cool and warm the device by turns"},
                    [CUTS_PROTECTION] = {"protection or muting circuit at work",
                                         "watch the muting circuit's control line together with the output"},
                },
            .lookalikes = "a probe that slips; a source with pauses: compare with the point before",
        },
    [GW_FOUND_CRACKLE] =
        {
            .code = "crackle",
            .meaning = "Impulses or steps that are not in the input.",
            .sentence = "the signal crackles",
            .causes =
                {
                    [CRACKLE_CONTACT] = {"dirty pot, switch or connector",
                                         "operate pot, switch or connector: the crackle comes and goes with it"},
                    [CRACKLE_DC] = {"DC across a control from a leaky capacitor",
                                    "DC on the control's hot end against its cold end"},
                    [CRACKLE_DEVICE] = {"device with popcorn noise or breakdown",
                                        "cool the device with spray; exchange it with a sibling's"},
                    [CRACKLE_ARC] = {"arcing across dirt or a tired insulator", "watch in the dark, from a distance"},
                },
            .lookalikes =
                "interference picked up by the probe: gone at the next point; a single impulse is an accident",
        },
    [GW_FOUND_HIGHS_LOST] =
        {
            .code = "highs-lost",
            .meaning = "High frequencies fall more than the stage should let them.",
            .sentence = "the highs are lost",
            .causes =
                {
                    [HIGHS_CABLE] = {"cable or instrument capacitance on a high-impedance source",
                                     "take the cable off or use a x10 probe, and look at the edges again"},
                    [HIGHS_PART] = {"filter or compensation part changed value",
                                    "measure the capacitor and its resistor, one leg lifted, power off"},
                    [HIGHS_DEVICE] = {"device too slow or failing",
                                      "exchange the device; a slow one has the same slope at any level"},
                    [HIGHS_HEAD] = {"tape head worn, dirty or out of line",
                                    "clean the head, then align it on a known tape"},
                },
            .lookalikes = "declared equalisation and filters do it by design; slew limiting goes at low level",
        },
    [GW_FOUND_LOWS_LOST] =
        {
            .code = "lows-lost",
            .meaning = "Low frequencies fall more than the stage should let them.",
            .sentence = "the lows are lost",
            .causes =
                {
                    [LOWS_DRY] = {"dry coupling or bypass capacitor",
                                  "bridge the capacitor with a good one of the same value and voltage"},
                    [LOWS_LOAD] = {"load on the coupling too heavy", "measure the input resistance that it feeds"},
                    [LOWS_TRANSFORMER] = {"transformer with a shorted turn or lost inductance",
                                          "inductance of the winding against a sibling"},
                },
            .lookalikes = "declared high-pass filters do it by design; an AC-coupled instrument sags as well",
        },
    [GW_FOUND_PITCH_OFF] =
        {
            .code = "pitch-off",
            .meaning = "The frequency is not what it should be.",
            .sentence = "the frequency is off",
            .causes =
                {
                    [PITCH_SOURCE] = {"source at another frequency than stated", "measure the source's own output"},
                    [PITCH_TIMING] = {"oscillator's timing part or control voltage off",
                                      "DC of the control voltage, then the timing capacitor and resistor"},
                    [PITCH_SPEED] = {"tape or motor speed off", "play a tape of known frequency"},
                    [PITCH_CLOCK] = {"clock or sample rate wrong", "measure the clock"},
                },
            .lookalikes = "a capture with a wrong time base is off by a round factor",
        },
    [GW_FOUND_RAIL_OFF] =
        {
            .code = "rail-off",
            .meaning = "A supply rail is not at its voltage.",
            .sentence = "the supply rail is off",
            .causes =
                {
                    [RAIL_MISSING] = {"fuse, regulator or rectifier of this rail open",
                                      "DC before and behind the regulator, and the fuse with the power off"},
                    [RAIL_LOADED] = {"rail pulled down by a short or a failed stage",
                                     "disconnect the stages one by one, or feel for the hot part"},
                    [RAIL_REGULATOR] = {"regulator or its reference off", "DC of its reference and its input"},
                    [RAIL_UNREGULATED] = {"input too low: mains, transformer or smoothing",
                                          "DC and ripple before the regulator"},
                },
            .lookalikes =
                "a dead negative rail often reads slightly positive; a scope of 3 % cannot confirm 15 V ± 5 %",
        },
    [GW_FOUND_RIPPLE_HIGH] =
        {
            .code = "ripple-high",
            .meaning = "A supply rail carries too much mains ripple.",
            .sentence = "the supply rail has too much ripple",
            .causes =
                {
                    [RIPPLE_SMOOTHING] =
                        {"smoothing capacitor dried out: twice the mains",
                         "bridge the smoothing capacitor with a good one (discharged first) and watch the ripple"},
                    [RIPPLE_DIODE] = {"open rectifier diode: once the mains", "check each diode with the power off"},
                    [RIPPLE_REGULATOR] = {"regulator out of regulation: too little input",
                                          "the lowest point of the ripple before it, against its output and drop"},
                    [RIPPLE_LOAD] = {"rail loaded too heavily", "current of the rail against its rating"},
                },
            .lookalikes = "ripple of unregulated rails is 2 to 10 % in health; a probe's ground lead adds mains",
        },
    [GW_FOUND_ODD_ONE_OUT] =
        {
            .code = "odd-one-out",
            .meaning = "One of several like points is unlike the others.",
            .sentence = "it is unlike its siblings",
            .causes =
                {
                    [ODD_STAGE] = {"fault in this voice or channel",
                                   "exchange its device with a sibling's: a fault that moves is the device"},
                    [ODD_TRIM] = {"trimmer or control set unlike the others",
                                  "compare the settings, then trim by the service notes"},
                    [ODD_FEED] = {"it is fed unlike the others", "compare the points before them"},
                },
            .lookalikes = "pots near the bottom of their travel differ by 1 to 2 dB in health",
        },
    [GW_FOUND_PROBE_SUSPECT] =
        {
            .code = "probe-suspect",
            .meaning = "One capture alone explains the errors around it: the probe is doubted, not the stage.",
            .sentence = "the probe is doubted, not the stage",
            .causes =
                {
                    [PROBE_SWITCH] = {"probe switch at x1 or x10, against what the file says",
                                      "look at the switch and capture this point again"},
                    [PROBE_FLOATING] = {"probe not touching the point, or its ground off",
                                        "touch a point that is known to be live, then capture this one again"},
                    [PROBE_RANGE] = {"range, scale or channel misread",
                                     "compare the file's volts with what the screen showed"},
                    [PROBE_LOADING] = {"the instrument loads this point", "capture again with a x10 probe or a buffer"},
                },
            .lookalikes = "real loss stays lost at the next point",
        },
    [GW_FOUND_CAPTURE_POOR] =
        {
            .code = "capture-poor",
            .meaning = "The capture cannot carry the judgement: too short, too coarse, or clipped in the recorder.",
            .sentence = "the capture is too poor to judge",
            .causes =
                {
                    [POOR_OVERLOAD] = {"signal larger than the screen or the converter",
                                       "capture again on a coarser range"},
                    [POOR_COARSE] = {"signal only a few codes high", "capture again on a finer range"},
                    [POOR_SHORT] = {"too few cycles in the record", "capture again with a slower time base"},
                    [POOR_GAPS] = {"samples missing in the file", "save the capture again"},
                    [POOR_GONE] = {"the oddity is gone at the next point, so the capture made it",
                                   "capture this point again, with a short ground lead"},
                },
            .lookalikes = "a linear stage cannot un-clip what was clipped before it",
        },
};
