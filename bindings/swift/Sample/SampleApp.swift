// Enrol first, then one screen: begin listening, take a photo, see the hazards and what is missing, as they stand.
// NOT BUILT where this was written: it needs a Mac.
import Scupper
import SwiftUI

@main
struct SampleApp: App {
    @StateObject private var day = Day.shared
    @State private var enrolled = Enrolment.kept != nil
    @State private var camera = false
    @State private var about: String?
    private let ears = Ears()

    var body: some Scene {
        WindowGroup {
            if enrolled { walk } else { EnrolView { enrolled = true } }
        }
    }

    private var walk: some View {
        List {
            Section("Walk") {
                Button("Listen") {
                    ears.photoWanted = { about = $0; camera = true }
                    ears.begin()
                }
                Button("Photo") { about = nil; camera = true }
                Button("Done") { ears.end() }
                Button("Exchange") { Uploader.shared.level() }
            }
            // None listed does not mean that a place is safe.
            Section("Hazards") { ForEach(day.hazards, id: \.self) { Text($0) } }
            Section("Missing") { ForEach(day.missing, id: \.self) { Text($0) } }
            if let problem = day.problem { Text(problem) }
        }
        .onAppear { day.begin() }
        .sheet(isPresented: $camera) { Camera(about: about) }
        .onReceive(NotificationCenter.default.publisher(for: UserDefaults.didChangeNotification)) { _ in
            DispatchQueue.main.async { enrolled = Enrolment.kept != nil }
        }
    }
}
