// The phone's own recogniser, on the device alone, and its voice. One note for the whole walk.
// NOT BUILT where this was written: it needs a Mac.
import AVFoundation
import Scupper
import Speech

final class Ears: NSObject, NoteListener, AVSpeechSynthesizerDelegate {
    private let recogniser = SFSpeechRecognizer(locale: Locale(identifier: "en-US"))
    private let engine = AVAudioEngine()
    private let voice = AVSpeechSynthesizer()
    private var request: SFSpeechAudioBufferRecognitionRequest?
    private var task: SFSpeechRecognitionTask?
    private var note: Note?
    private var wanted = false
    var photoWanted: (String?) -> Void = { _ in }

    override init() {
        super.init()
        voice.delegate = self
    }

    func begin() {
        SFSpeechRecognizer.requestAuthorization { [self] answer in
            guard answer == .authorized, recogniser?.supportsOnDeviceRecognition == true else { return }
            let day = Day.shared
            day.work.async { [self] in
                // A note that was cut off when the battery died goes on where it was.
                let open = day.attempt { try day.device?.openNotes().first { $0.surveyId() == day.survey?.id() } }
                note = (open ?? nil) ?? day.attempt { try day.survey?.beginNote() } ?? nil
                note?.listen(listener: self)
                DispatchQueue.main.async { self.wanted = true; self.listen() }
            }
        }
    }

    func end() {
        wanted = false
        rest()
        let day = Day.shared
        day.work.async { [self] in
            _ = day.attempt { try note?.end() }
            note = nil
            Uploader.shared.level()
        }
    }

    private func listen() {
        guard wanted, !engine.isRunning, !voice.isSpeaking else { return }
        let session = AVAudioSession.sharedInstance()
        try? session.setCategory(.playAndRecord, mode: .measurement, options: [.duckOthers, .allowBluetooth])
        try? session.setActive(true)
        let request = SFSpeechAudioBufferRecognitionRequest()
        request.requiresOnDeviceRecognition = true
        request.shouldReportPartialResults = false
        self.request = request
        let input = engine.inputNode
        input.installTap(onBus: 0, bufferSize: 1024, format: input.outputFormat(forBus: 0)) { buffer, _ in
            request.append(buffer)
        }
        try? engine.start()
        task = recogniser?.recognitionTask(with: request) { [weak self] result, error in
            guard let self, result?.isFinal == true || error != nil else { return }
            if let best = result?.bestTranscription, !best.formattedString.isEmpty {
                let trust = best.segments.map(\.confidence).min().map(Double.init)
                self.hear(Segment(text: best.formattedString, confidence: trust))
            }
            DispatchQueue.main.async { self.rest(); self.listen() }
        }
        // The recogniser has no end of its own on the device: a phrase is closed after ten seconds.
        DispatchQueue.main.asyncAfter(deadline: .now() + 10) { request.endAudio() }
    }

    private func rest() {
        if engine.isRunning {
            engine.stop()
            engine.inputNode.removeTap(onBus: 0)
        }
        request?.endAudio()
        request = nil
        task = nil
    }

    private func hear(_ segment: Segment) {
        let day = Day.shared
        day.work.async { [self] in _ = day.attempt { try note?.hear(segment: segment) } }
    }

    /// Called on the queue of `Day.work`, after what was heard is on disk.
    func heard(event: NoteEvent) {
        DispatchQueue.main.async { [self] in
            switch event {
            case .readBack(let line): say(line)
            case .question(_, _, let text): say(text)
            case .markPhoto(let about, _): photoWanted(about)
            case .done: end()
            default: break
            }
        }
    }

    /// The microphone rests while the phone speaks, so that it does not hear itself.
    private func say(_ line: String) {
        rest()
        voice.speak(AVSpeechUtterance(string: line))
    }

    func speechSynthesizer(_ synthesizer: AVSpeechSynthesizer, didFinish utterance: AVSpeechUtterance) {
        listen()
    }
}
