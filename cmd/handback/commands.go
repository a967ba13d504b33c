package main

// commands is the command table: help and dispatch are drawn from it. One row per command,
// defined beside its code.
func commands() []command {
	return []command{
		demoCommand(),
		serveCommand(),
		verifyCommand(),
		exportCommand(),
		backupCommand(),
		strengthCommand(),
		hydrometerCommand(),
		diluteCommand(),
		wetnessCommand(),
		spectrumCommand(),
		recordingCommand(),
		electrodesCommand(),
		batteryCommand(),
		lookbackCommand(),
		sampleCommand(),
	}
}
