package web

import "handback/reprocess"

// evidenceRoutes are the rows of test recordings and of pictures.
func evidenceRoutes() []Route {
	test, picture := acts(reprocess.ActStep), acts(reprocess.ActPicture)
	return []Route{
		{Method: get, Path: testRow, Who: test, Page: "kit-test", Sample: sampleTest, Handle: showTest},
		{Method: post, Path: testRow, Who: test, Page: "kit-test", Sample: sampleTest, Handle: takeTest, Limit: mostBody},
		{Method: post, Path: "/kit/:id/test/use", Who: test, Page: "kit-test", Sample: sampleTest, Handle: useTest},
		{Method: post, Path: "/kit/:id/test/photo", Who: test, Page: "kit-test", Sample: sampleTest, Handle: takePhoto, Limit: mostBody},
		{Method: post, Path: "/kit/:id/test/height", Who: acts(reprocess.ActLearnHeight), Page: "kit-test", Sample: sampleTest, Handle: learnHeight},
		{Method: get, Path: "/kit/:id/test/strip", Who: test, Handle: testStrip},
		{Method: post, Path: "/kit/:id/test/draft", Who: test, Handle: beginUpload},
		{Method: get, Path: "/kit/:id/test/draft/:draft", Who: test, Handle: uploadHas},
		{Method: post, Path: "/kit/:id/test/draft/:draft", Who: test, Handle: uploadPiece, Limit: mostPiece + 16<<10},
		{Method: get, Path: "/kit/:id/picture", Who: picture, Page: "kit-picture", Sample: samplePicture, Handle: showPicturePage},
		{Method: post, Path: "/kit/:id/picture", Who: picture, Page: "kit-picture", Sample: samplePicture, Handle: takePicture, Limit: mostBody},
		{Method: get, Path: "/kit/:id/picture/:sha", Who: signedIn, Handle: keptPicture},
	}
}

// sampleTest is the page of a file that failed.
func sampleTest() Page {
	p := &testPage{Base: Titled("No usable signal: kit 17"), ID: "K18", Number: "17",
		Typed: "/kit/K18?full=1"}
	none := func(string) string { return "" }
	x := &view{}
	p.Upload, p.Photo = x.uploadForm(none), x.photoForm()
	p.Waiting = []link{{To: "/kit/K18/test?draft=x", Words: "Look at the recording uploaded at 14:02"}}
	p.Result = &testResult{Words: "No usable signal", Lead: "EDF+C, lead ECG.", Strip: "/kit/K18/test/strip?draft=x",
		StripIn: "The first 20 s.", Memory: memoryChoices(), Act: "Record it: no usable signal",
		Failing: []reprocess.Advised{{Code: "MAINS", Says: "Mains hum of 143 µV.", Do: "Away from chargers."}},
		Figures: limitRows([]reprocess.Measured{{ID: "mains50_uv", Words: "mains hum, 50 Hz", Value: "143",
			Unit: "µV", Limit: "at most 100 µV, remarked above 50 µV", Code: "MAINS"}}),
		Learn: &learnForm{Words: "Take 1.187 mV", Reason: TextField("reason", "Why", ""), Secret: SignField()}}
	return p
}
